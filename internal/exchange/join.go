package exchange

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"packwright/internal/problem"
)

// rootPath is where a server of its own authority gives its certificate.
const rootPath = "/ca.crt"

// welcomePort is the usual one of the page without encryption.
const welcomePort = "8088"

// Asking is what a server needs to join another one as a device.
type Asking struct {
	URL         string // as people give it; may carry the code
	Code        string // one-time, of eight characters
	Name        string // under which the other lists this server
	Device      string // random id
	Fingerprint string // of the other's authority; empty: the system's authorities are believed
	Root        []byte // its certificate, PEM or DER; nil: it is fetched, which the fingerprint makes safe
	Epoch       string // of the journal here, so that a server does not join itself; empty: not known
	Dial        Dial   // nil: by the names the system can look up
}

// Join asks another server to let this one in. Nothing secret is sent before the
// other has shown the certificate that the fingerprint belongs to. A server on
// this machine asks for no code. A server that turns out to be this one is left
// again.
func Join(ctx context.Context, a Asking) (Link, error) {
	origin, code, err := ParseURL(a.URL)
	if err != nil {
		return Link{}, err
	}
	if a.Code != "" {
		code = a.Code
	}
	link := Link{URL: origin, Name: a.Name}
	if code == "" {
		u, err := url.Parse(origin)
		if err != nil || u.Scheme != "http" {
			return Link{}, problem.Invalidf("code", "on the other machine: packwright invite --lead; then here: --code ABCD-EFGH", "joining needs a code")
		}
		link.Role = "lead" // whoever sits at a machine may do everything there
		itself, err := link.isItself(ctx, a)
		if err == nil && itself {
			err = sameServer(giveAnother)
		}
		return link, err
	}
	if a.Fingerprint != "" || a.Root != nil {
		root, err := pinned(ctx, origin, a)
		if err != nil {
			return Link{}, err
		}
		link.RootPEM = string(pemOf(root))
	}
	c, err := link.client(a.Dial)
	if err != nil {
		return Link{}, err
	}
	body, err := json.Marshal(map[string]any{"code": code, "name": a.Name, "device": a.Device, "token": true})
	if err != nil {
		return Link{}, err
	}
	var answer struct {
		Device struct{ ID, Name, Role string } `json:"device"`
		Token  string                          `json:"token"`

		Namesakes int `json:"namesakes"`
	}
	err = c.ask(ctx, http.MethodPost, "/api/v1/join", body, nil, &answer)
	switch {
	case errors.As(err, new(x509.UnknownAuthorityError)):
		return Link{}, unknownAuthority(ctx, origin, a.Dial)
	case err != nil:
		return Link{}, err
	case answer.Token == "":
		return Link{}, stranger()
	}
	link.Token, link.DeviceID, link.Name, link.Role = answer.Token, answer.Device.ID, answer.Device.Name, answer.Device.Role
	link.Namesakes = answer.Namesakes
	if itself, err := link.isItself(ctx, a); err != nil || !itself {
		return link, nil // where that cannot be told now, the exchange tells it later
	}
	if err := link.Leave(ctx, a.Dial); err != nil {
		return Link{}, err
	}
	return Link{}, sameServer(giveAnother)
}

// Leave gives the token of a link back: there it is worth nothing from then on.
func (l Link) Leave(ctx context.Context, dial Dial) error {
	c, err := l.client(dial)
	if err != nil {
		return err
	}
	return c.ask(ctx, http.MethodPost, "/api/v1/leave", []byte("{}"), nil, &struct{}{})
}

func pemOf(c *x509.Certificate) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})
}

func (l Link) client(dial Dial) (*client, error) {
	transport, err := l.transport(dial)
	if err != nil {
		return nil, err
	}
	return &client{link: l, http: &http.Client{Transport: transport, CheckRedirect: noRedirect}, pace: Pace{}.usual(), now: time.Now}, nil
}

const giveAnother = "give the address of another server"

// isItself sees that a packwright server is there that this one can speak with,
// and says whether it has the journal that is here.
func (l Link) isItself(ctx context.Context, a Asking) (bool, error) {
	c, err := l.client(a.Dial)
	if err != nil {
		return false, err
	}
	hello, err := c.greet(ctx)
	return a.Epoch != "" && hello.epoch == a.Epoch, err
}

// pinned gives the authority's certificate that the fingerprint belongs to.
func pinned(ctx context.Context, origin string, a Asking) (*x509.Certificate, error) {
	if a.Root != nil {
		root, err := parseRoot(a.Root)
		if err != nil {
			return nil, problem.Invalidf("root", "give the file that the welcome page of the other server offers", "this is not the certificate of an authority: %v", err)
		}
		if a.Fingerprint == "" || sameFingerprint(Fingerprint(root.Raw), a.Fingerprint) {
			return root, nil
		}
		return nil, otherFingerprint(root)
	}
	root, err := fetchRoot(ctx, origin, a.Dial)
	if err != nil {
		return nil, err
	}
	if !sameFingerprint(Fingerprint(root.Raw), a.Fingerprint) {
		return nil, otherFingerprint(root)
	}
	return root, nil
}

func otherFingerprint(root *x509.Certificate) error {
	return problem.New(problem.Conflict, "compare it with the screen of the other machine; if it is another one, somebody is in between: do not go on",
		"the certificate there has the fingerprint %s", Fingerprint(root.Raw))
}

// unknownAuthority says what can be done about a certificate that the system does
// not know.
func unknownAuthority(ctx context.Context, origin string, dial Dial) error {
	root, err := fetchRoot(ctx, origin, dial)
	if err != nil {
		return problem.New(problem.NotAllowed, "give the fingerprint that packwright serve shows there: --fingerprint AA:BB:…",
			"this machine does not know the authority of %s", origin)
	}
	return problem.New(problem.NotAllowed,
		"compare it with the fingerprint on the screen of the other machine, where packwright serve prints it, pair by pair; "+
			"only if all are the same, join again with --fingerprint and what that screen shows; if not, somebody is in between",
		"this machine does not know the authority of %s yet; what answers has the fingerprint%s", origin, inLines(Fingerprint(root.Raw)))
}

// inLines breaks a fingerprint into lines of eight pairs, as the other machine's
// screen has it, so that it is read and not pasted.
func inLines(fingerprint string) string {
	var b strings.Builder
	for i, pair := range strings.Split(fingerprint, ":") {
		switch {
		case i%8 == 0:
			b.WriteString("\n  ")
		default:
			b.WriteString(":")
		}
		b.WriteString(pair)
	}
	return b.String()
}

// fetchRoot gets an authority's certificate from whoever answers: over HTTPS
// without a look at who that is, or from the welcome page. Nothing is sent, and
// what comes is worth nothing until its fingerprint was compared.
func fetchRoot(ctx context.Context, origin string, dial Dial) (*x509.Certificate, error) {
	u, err := url.Parse(origin)
	if err != nil {
		return nil, err
	}
	blind := newTransport(dial)
	blind.TLSClientConfig = &tls.Config{MinVersion: tls.VersionTLS12, InsecureSkipVerify: true} // only to get a certificate that is then compared
	defer blind.CloseIdleConnections()
	asker := http.Client{Transport: blind, CheckRedirect: noRedirect, Timeout: 15 * time.Second}
	for _, from := range []string{origin + rootPath, "http://" + net.JoinHostPort(u.Hostname(), welcomePort) + rootPath} {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, from, nil)
		if err != nil {
			return nil, err
		}
		resp, err := asker.Do(req)
		if err != nil {
			continue
		}
		content, err := io.ReadAll(io.LimitReader(resp.Body, 64<<10))
		resp.Body.Close()
		if err != nil || resp.StatusCode != http.StatusOK {
			continue
		}
		if root, err := parseRoot(bytes.TrimSpace(content)); err == nil {
			return root, nil
		}
	}
	return nil, problem.New(problem.NotFound, "save the certificate from its welcome page and give it with --root FILE",
		"%s does not give the certificate of its authority", origin)
}
