package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"packwright/internal/ca"
	"packwright/internal/filelock"
	"packwright/internal/keydir"
	"packwright/internal/problem"
)

// fieldChoices say how other devices get in. Without any of them nobody does.
type fieldChoices struct {
	Keys        string   `type:"path" placeholder:"DIR" help:"Folder of keys and joined devices, apart from the data so that copies of the data hold no key (the data folder's name with -keys)."`
	Lan         bool     `help:"Let phones on the same network in: HTTPS with a certificate authority of this machine's own, and a page that explains it."`
	Name        string   `placeholder:"NAME" help:"Name on the network: pit makes pit.local (the machine's own)."`
	Also        []string `placeholder:"NAME" help:"Another name or private address this machine is reached by; may be repeated."`
	HTTPS       string   `name:"https" placeholder:"ADDRESS" help:"Address and port of HTTPS (:8443; :443 with --domain)."`
	Welcome     string   `placeholder:"ADDRESS" help:"Address and port of the welcome page, plain HTTP (:8088; :80 with --domain)."`
	Cert        string   `type:"path" placeholder:"FILE" help:"Certificate (PEM, with its chain) to use instead of an own authority; read again when it changes."`
	Key         string   `type:"path" placeholder:"FILE" help:"Private key of --cert."`
	Domain      string   `placeholder:"NAME" help:"Public name to get a certificate for by ACME; this accepts the terms of the ACME server."`
	ACME        string   `name:"acme" placeholder:"URL" help:"Directory of the ACME server (a public one)."`
	BehindProxy string   `placeholder:"ADDRESS" help:"Address and port where a reverse proxy that does the HTTPS connects."`
	Public      string   `placeholder:"URL" help:"Address people open, with --behind-proxy."`
}

// way is how the encryption is had.
type way int

const (
	wayNone   way = iota // this machine only
	wayOwn               // an authority of this machine's own
	wayFiles             // a certificate from files
	wayDomain            // ACME
	wayProxy             // a reverse proxy does it
)

// way says which of the ways was chosen, or what does not go together.
func (o fieldChoices) way() (way, error) {
	wrong := func(field, hint, text string) (way, error) { return wayNone, problem.Invalidf(field, hint, "%s", text) }
	switch {
	case (o.Cert == "") != (o.Key == ""):
		return wrong("cert", "give the files of both", "--cert and --key need each other")
	case (o.BehindProxy == "") != (o.Public == ""):
		return wrong("public", "say where the proxy connects and what people open", "--behind-proxy and --public need each other")
	case o.Cert != "" && o.Domain != "":
		return wrong("domain", "use the files, or leave the certificate to ACME", "--cert and --domain exclude each other")
	case o.BehindProxy != "" && (o.Lan || o.Cert != "" || o.Domain != "" || o.HTTPS != "" || o.Welcome != ""):
		return wrong("behind-proxy", "the proxy does the HTTPS; leave the other flags out", "--behind-proxy goes with --public only")
	case o.ACME != "" && o.Domain == "":
		return wrong("acme", "name the domain too", "--acme needs --domain")
	case o.BehindProxy != "":
		return wayProxy, nil
	case o.Domain != "":
		return wayDomain, nil
	case o.Cert != "":
		return wayFiles, nil
	case o.Lan:
		return wayOwn, nil
	case o.Name != "" || len(o.Also) > 0 || o.HTTPS != "" || o.Welcome != "":
		return wrong("lan", "add --lan", "--name, --also, --https and --welcome are about other devices")
	}
	return wayNone, nil
}

// keysDir is the folder of keys for a data folder.
func (o fieldChoices) keysDir(data string) string { return cmp.Or(o.Keys, data+"-keys") }

// httpsAddress and welcomeAddress give the flags or what stands for them. The
// ports are part of the address phones keep their data under, so they never change.
func (o fieldChoices) httpsAddress() string {
	if o.Domain != "" {
		return cmp.Or(o.HTTPS, ":443")
	}
	return cmp.Or(o.HTTPS, ":8443")
}

func (o fieldChoices) welcomeAddress() string {
	if o.Domain != "" {
		return cmp.Or(o.Welcome, ":80")
	}
	return cmp.Or(o.Welcome, ":8088")
}

// field is what other devices come in by.
type field struct {
	way       way
	host      string // name they open
	origin    string // "https://pit.local:8443": what they open, and what their data is kept under
	secure    net.Listener
	plain     net.Listener // nil behind a proxy
	public    *url.URL     // behind a proxy
	tls       *tls.Config  // nil behind a proxy
	authority *ca.Authority
	keeper    *ca.Keeper
	acme      func(http.Handler) http.Handler                      // answers ACME's questions on the plain door
	fetch     func(*tls.ClientHelloInfo) (*tls.Certificate, error) // gets the certificate from ACME
	also      []string
	keys      *filelock.Lock // on the folder of keys
}

// openField opens the listeners, the folder of keys and the certificate of the
// chosen way. Nothing is changed in a folder where an address is in use. here is the
// address for this machine.
func openField(o fieldChoices, data, here string, now func() time.Time, log *slog.Logger) (f *field, err error) {
	f = &field{also: o.Also}
	if f.way, err = o.way(); err != nil || f.way == wayNone {
		return f, err
	}
	defer func() {
		if err != nil {
			f.close()
		}
	}()
	if err := f.listen(o, log); err != nil {
		return f, err
	}
	keys := o.keysDir(data)
	if err := keydir.Keep(keys); err != nil {
		return f, err
	}
	if f.keys, err = keydir.Take(keys, here); err != nil {
		return f, err
	}
	switch f.way {
	case wayOwn:
		err = f.ownAuthority(o, keys, now, log)
	case wayFiles:
		err = f.fromFiles(o, log)
	case wayDomain:
		err = f.byACME(o, keys)
	}
	if err == nil && f.plain != nil {
		f.origin = "https://" + f.host + portSuffix(f.secure, "443")
	}
	return f, err
}

// listen opens the listeners of the chosen way.
func (f *field) listen(o fieldChoices, log *slog.Logger) (err error) {
	if f.way == wayProxy {
		if f.public, err = readPublic(o.Public); err != nil {
			return err
		}
		f.host, f.origin = f.public.Hostname(), f.public.String()
		if f.secure, err = listen("behind-proxy", o.BehindProxy, "127.0.0.1:8090"); err != nil {
			return err
		}
		if !isLoopbackHost(f.secure.Addr().String()) {
			log.Warn("whoever reaches the proxy's door directly can say he is the proxy: keep others out by a firewall", "address", f.secure.Addr())
		}
		return nil
	}
	if f.secure, err = listen("https", o.httpsAddress(), ":9443"); err != nil {
		return err
	}
	f.plain, err = listen("welcome", o.welcomeAddress(), ":9088")
	return err
}

func (f *field) ownAuthority(o fieldChoices, keys string, now func() time.Time, log *slog.Logger) error {
	host, err := localName(o.Name, keys)
	if err != nil {
		return err
	}
	f.authority, err = ca.Open(keys, ca.Options{Host: host, Also: o.Also, Now: now, Built: buildTime(), Log: log})
	if err != nil {
		return err
	}
	f.host = f.authority.Host()
	f.keeper = ca.NewKeeper(f.authority, f.wanted)
	f.tls = secureConfig(f.keeper.GetCertificate)
	return f.keeper.Refresh()
}

// wanted is what the certificate must hold beside the machine's names.
func (f *field) wanted() (names []string, addrs []netip.Addr) {
	addrs, err := ca.Addresses()
	if err != nil {
		return nil, nil // the names are left
	}
	return nil, addrs
}

func (f *field) fromFiles(o fieldChoices, log *slog.Logger) error {
	files, err := ca.NewFiles(o.Cert, o.Key, log)
	if err != nil {
		return err
	}
	f.tls = secureConfig(files.GetCertificate)
	if f.host = o.Name; f.host != "" {
		return nil
	}
	shown, err := files.GetCertificate(nil)
	if err != nil {
		return err
	}
	for _, name := range shown.Leaf.DNSNames {
		if !strings.Contains(name, "*") {
			f.host = name
			return nil
		}
	}
	return problem.Invalidf("name", "say which name people open, as in --name packs.our-school.example",
		"the certificate in %s names no machine", o.Cert)
}

// secureConfig is what both sides of a connection must be able to.
func secureConfig(certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Config {
	return restrict(&tls.Config{GetCertificate: certificate})
}

// restrict leaves TLS 1.2 with authenticated encryption and forward secrecy, and
// TLS 1.3, which has nothing else. Every browser that can run the app knows both.
func restrict(c *tls.Config) *tls.Config {
	c.MinVersion = tls.VersionTLS12
	c.CipherSuites = []uint16{
		tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256,
		tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384,
		tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
	}
	return c
}

// entrances are the doors for other devices, for a server, which learns how it is
// reached.
func (f *field) entrances(s *server) ([]entrance, error) {
	if f.way == wayNone {
		return nil, nil
	}
	s.origin, s.hosts, s.publicCert, s.welcome = f.origin, f.answersTo, f.way == wayDomain, f.welcome()
	if f.way == wayProxy {
		return []entrance{{door: doorProxy, listener: f.secure, handler: s.behindProxy(f.public, s.handler(doorProxy))}}, nil
	}
	plain := entrance{door: doorPlain, listener: f.plain, handler: toHTTPS(f.origin)}
	switch f.way {
	case wayOwn:
		origin, err := url.Parse(f.origin)
		if err != nil {
			return nil, err
		}
		_, port, err := net.SplitHostPort(f.plain.Addr().String())
		if err != nil {
			return nil, err
		}
		explained := &welcome{authority: f.authority, origin: origin, checkPort: port, also: f.also, numbers: ownNumbers}
		pages, err := explained.pages()
		if err != nil {
			return nil, err
		}
		s.pages = map[door]map[string]http.Handler{doorPlain: pages, doorField: {rootPath: pages[rootPath]}}
		s.numbers = f.numbers
		plain.handler, plain.check = besideTLS(f.origin, s.handler(doorPlain)), f.keeper.GetFresh
	case wayDomain:
		plain.handler = f.acme(plain.handler)
	}
	return []entrance{{door: doorField, listener: f.secure, secure: f.tls, handler: s.handler(doorField)}, plain}, nil
}

// welcome is the address of the page that explains how to trust this machine; empty
// where there is none.
func (f *field) welcome() string {
	if f.way != wayOwn {
		return ""
	}
	return "http://" + f.host + portSuffix(f.plain, "80")
}

// leadsHere says whether the address of an upstream leads to one of this program's
// own doors, as far as it can be told without asking anybody.
func (f *field) leadsHere(address string, here net.Listener) bool {
	u, err := url.Parse(address)
	if err != nil {
		return false
	}
	samePort := func(l net.Listener, usual string) bool {
		_, port, err := net.SplitHostPort(l.Addr().String())
		return err == nil && port == cmp.Or(u.Port(), usual)
	}
	if u.Scheme == "http" {
		return u.Host == here.Addr().String() || strings.EqualFold(u.Hostname(), "localhost") && samePort(here, "80")
	}
	if f.way == wayNone || u.Scheme != "https" {
		return false
	}
	if strings.EqualFold(u.Scheme+"://"+u.Host, f.origin) {
		return true
	}
	return f.way != wayProxy && samePort(f.secure, "443") && f.isHere(hostName(u.Host))
}

// isHere says whether a name or an address is one of this machine's.
func (f *field) isHere(name string) bool {
	addr, err := netip.ParseAddr(name)
	if err != nil {
		return isLoopbackHost(name) || f.answersTo(name)
	}
	own, err := ca.Addresses()
	return addr.Unmap().IsLoopback() || err == nil && slices.Contains(own, addr.Unmap())
}

// answersTo says whether a name or an address may stand in a request. An address
// proves itself: a page elsewhere can point its name here, but not a number.
func (f *field) answersTo(name string) bool {
	if _, err := netip.ParseAddr(name); err == nil && f.way != wayProxy {
		return true
	}
	return strings.EqualFold(name, f.host) || slices.ContainsFunc(f.also, func(also string) bool { return strings.EqualFold(name, also) })
}

// tend keeps certificate and name fresh until ctx ends.
func (f *field) tend(ctx context.Context, log *slog.Logger) {
	switch f.way {
	case wayDomain:
		f.fetchCertificate(ctx, log)
		return
	case wayOwn:
	default:
		return
	}
	var beside sync.WaitGroup
	beside.Go(func() { f.keeper.Run(ctx) })
	beside.Go(func() { tellMoves(ctx, log, numbersEvery, f.numbers) })
	announce(ctx, log, f.host)
	beside.Wait()
}

// close closes what entrances did not take over, and gives the folder of keys free.
func (f *field) close() error {
	var errs []error
	if f.keys != nil {
		errs = append(errs, f.keys.Release())
	}
	for _, l := range []net.Listener{f.secure, f.plain} {
		if l != nil {
			errs = append(errs, l.Close())
		}
	}
	return errors.Join(errs...)
}

// toHTTPS sends every reader to the encrypted address. A program that calls the API
// here is refused: sent on, it would go on showing its token to the whole network.
func toHTTPS(origin string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		w.Header().Set("Referrer-Policy", "no-referrer")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		if r.Method != http.MethodGet && r.Method != http.MethodHead || ofAPI(r.URL.Path) {
			http.Error(w, "this way in is not encrypted: use "+origin, http.StatusForbidden)
			return
		}
		target := origin + "/" + strings.TrimLeft(r.URL.EscapedPath(), "/")
		if r.URL.RawQuery != "" {
			target += "?" + r.URL.RawQuery
		}
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, target, http.StatusFound)
	})
}

// localName makes the machine's name on the network, such as "pit.local", from
// what was chosen, from what it was last time, or from what the system calls it.
func localName(chosen, keys string) (string, error) {
	if name := strings.TrimSuffix(chosen, "."); name != "" {
		return strings.TrimSuffix(strings.ToLower(name), ".local") + ".local", nil
	}
	if host, err := ca.HostIn(keys); host != "" || err != nil {
		return host, err
	}
	host, err := os.Hostname()
	if err != nil {
		return "", problem.Invalidf("name", "give it one, as in --name pit", "this machine does not know its name: %v", err)
	}
	host, _, _ = strings.Cut(strings.ToLower(host), ".")
	host = strings.Trim(strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == '-' {
			return r
		}
		return '-'
	}, host), "-")
	if host == "" || host == "localhost" {
		host = programName
	}
	return host + ".local", nil
}

// portSuffix is ":8443" for a listener, or nothing where the port is the usual one.
func portSuffix(l net.Listener, usual string) string {
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil || port == usual {
		return ""
	}
	return ":" + port
}

// buildTime is when the source of this program was committed; zero if unknown.
func buildTime() time.Time {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return time.Time{}
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.time" {
			made, err := time.Parse(time.RFC3339, s.Value)
			if err == nil {
				return made
			}
		}
	}
	return time.Time{}
}
