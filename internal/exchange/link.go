package exchange

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"packwright/internal/problem"
	"packwright/internal/safefile"
)

// linkName is the file in the folder of keys that holds a link, token and all.
const linkName = "upstream.json"

// Link is how this server comes in at its upstream.
type Link struct {
	URL      string `json:"url"`                // origin: scheme, host and port
	Token    string `json:"token,omitempty"`    // secret; empty only on this machine
	DeviceID string `json:"device,omitempty"`   // of this server there
	Name     string `json:"name,omitempty"`     // of this server there
	Role     string `json:"role,omitempty"`     // when it joined
	RootPEM  string `json:"root_pem,omitempty"` // the authority pinned to; empty: the system's

	Namesakes int `json:"-"` // other servers of this name that were on the list there when it joined
}

// ReadLink reads the link in the folder of keys. The error is of kind NotFound
// where there is none.
func ReadLink(dir string) (Link, error) {
	path := filepath.Join(dir, linkName)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Link{}, problem.New(problem.NotFound, "join one first: packwright join URL --code CODE", "this server has joined no other one")
	}
	if err != nil {
		return Link{}, err
	}
	var l Link
	if err := json.Unmarshal(text, &l); err != nil || l.URL == "" {
		return Link{}, problem.New(problem.Damaged, "join again: packwright join URL --code CODE", "%s cannot be read", path)
	}
	return l, nil
}

// Save keeps the link in the folder of keys, which is made where it is missing.
func (l Link) Save(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	text, err := json.MarshalIndent(l, "", "\t")
	if err != nil {
		return err
	}
	return safefile.Write(filepath.Join(dir, linkName), append(text, '\n'))
}

// ParseURL reads the address of a server as people give it, also with the path of
// its join page and the code behind it. What it gives is the origin.
func ParseURL(text string) (origin, code string, err error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Scheme != "https" && u.Scheme != "http" {
		return "", "", problem.Invalidf("url", "give it as in https://pit.local:8443", "%q is not the address of a server", text)
	}
	if u.Scheme == "http" && !thisMachine(u.Hostname()) {
		return "", "", problem.Invalidf("url", "use the address with https that packwright serve shows there", "%q is not encrypted", text)
	}
	switch strings.Trim(u.Path, "/") {
	case "", "join":
	default:
		return "", "", problem.Invalidf("url", "leave the path out", "%q is an address within a server", text)
	}
	return u.Scheme + "://" + strings.ToLower(u.Host), u.Fragment, nil
}

// thisMachine reports whether a host can only mean this machine.
func thisMachine(host string) bool {
	addr, err := netip.ParseAddr(host)
	return err == nil && addr.Unmap().IsLoopback() || strings.EqualFold(host, "localhost")
}

// Dial opens a connection, as (*net.Dialer).DialContext does.
type Dial func(ctx context.Context, network, address string) (net.Conn, error)

// transport speaks HTTPS with the upstream and believes only the authority that
// the link is pinned to, or the system's. Without dial it looks names up as the
// system does.
func (l Link) transport(dial Dial) (*http.Transport, error) {
	t := newTransport(dial)
	t.MaxIdleConnsPerHost = 2
	// When this machine gets another address its connections are dead, and nobody says so.
	t.HTTP2 = &http.HTTP2Config{SendPingTimeout: 10 * time.Second, PingTimeout: 10 * time.Second}
	t.TLSClientConfig = &tls.Config{MinVersion: tls.VersionTLS12}
	if l.RootPEM == "" {
		return t, nil
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM([]byte(l.RootPEM)) {
		return nil, problem.New(problem.Damaged, "join again", "the certificate that was pinned cannot be read")
	}
	t.TLSClientConfig.RootCAs = pool
	return t, nil
}

func newTransport(dial Dial) *http.Transport {
	t := http.DefaultTransport.(*http.Transport).Clone()
	t.DialContext = dial
	if dial == nil {
		t.DialContext = (&net.Dialer{Timeout: 15 * time.Second}).DialContext
	}
	return t
}

// Fingerprint is the SHA-256 of a certificate as people compare it: pairs of
// capital hexadecimal digits with colons between.
func Fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = strings.ToUpper(hex.EncodeToString([]byte{b}))
	}
	return strings.Join(pairs, ":")
}

// sameFingerprint compares a fingerprint with one that a person typed.
func sameFingerprint(fingerprint, typed string) bool {
	plain := strings.NewReplacer(":", "", " ", "", "-", "", "\n", "", "\r", "", "\t", "")
	return strings.EqualFold(plain.Replace(fingerprint), plain.Replace(typed))
}

// parseRoot reads an authority's certificate, PEM or DER.
func parseRoot(content []byte) (*x509.Certificate, error) {
	if block, _ := pem.Decode(content); block != nil {
		content = block.Bytes
	}
	root, err := x509.ParseCertificate(content)
	if err == nil && !root.IsCA {
		err = errors.New("not the certificate of an authority")
	}
	return root, err
}
