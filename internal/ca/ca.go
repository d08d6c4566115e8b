// Package ca is the certificate authority of one machine, so that phones on a
// network without internet can reach it over HTTPS.
//
// Use Open first: it gives the Authority of a folder and makes it on first use.
// Then NewKeeper: Refresh once before serving, GetCertificate into a tls.Config,
// Run to keep the certificate fresh. RootPEM, RootDER and AppleProfile are what a
// phone is told to trust, Fingerprint what a person compares. A certificate of
// the user's own is served by Files instead. Addresses lists what others reach
// this machine by.
//
// # What a phone that trusts it risks
//
// The root signs one issuer, the issuer signs the server's certificates. Both
// carry critical name constraints (RFC 5280, 4.2.1.10): the machine's .local
// name, the names that the user adds, and private addresses. The issuer is
// good for servers only. The root's key is never written and is forgotten as
// soon as the issuer is signed: some systems do not look at the constraints of
// a root, so its key would be worth more to a thief than the issuer's. It is not
// missed, because the issuer lives as long as the root and more names need a new
// root anyway.
//
// # The folder
//
// authority.pem holds root, issuer and the issuer's key; leaf.pem the server's
// certificate of now with its key. One file each, so that no crash leaves
// half of a pair. The folder is for one process at a time, is closed to other
// users, and must not get into copies: whoever has the issuer's key can pass for
// this machine. Nothing in it can be had back; if it is lost, phones have to
// trust a new root.
package ca

import (
	"crypto/ecdsa"
	"crypto/sha256"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/netip"
	"path/filepath"
	"strings"
	"time"

	"packwright/internal/keydir"
	"packwright/internal/problem"
)

// Names in the keys folder.
const (
	authorityName = "authority.pem"
	leafName      = "leaf.pem"
)

// Options of Open.
type Options struct {
	Host  string           // the machine's name on the network: one label and .local
	Also  []string         // further DNS names and private addresses that the user reaches it by
	Now   func() time.Time // clock; nil: time.Now
	Built time.Time        // when the program was made: a clock before that is wrong; zero: not checked
	Log   *slog.Logger     // what is made and why, and what fails while serving; nil: silence
}

// Authority signs the certificates of one machine. Its methods may be called at
// the same time from several goroutines.
type Authority struct {
	o       Options
	dir     string
	host    string
	names   []string     // of Options.Also
	addrs   []netip.Addr // of Options.Also
	root    *x509.Certificate
	issuer  *x509.Certificate
	key     *ecdsa.PrivateKey // the issuer's
	profile []byte
}

// Open gives the authority kept in dir, and makes folder and authority on first
// use. Its problems are: Invalid for a host, a further name or a clock that
// cannot be, and for files that other users may read; Damaged for a file that
// cannot be read or is missing; Conflict for a file that packwright did not make
// and for a host or name that the root may not vouch for; Unsupported for a root
// that has expired. They say what to do, and nothing in the folder is changed.
func Open(dir string, o Options) (*Authority, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	host, err := cleanHost(o.Host)
	if err != nil {
		return nil, err
	}
	a := &Authority{o: o, host: host}
	if a.names, a.addrs, err = cleanAlso(o.Also); err != nil {
		return nil, err
	}
	if a.dir, err = filepath.Abs(dir); err != nil {
		return nil, err
	}
	if err := keydir.Keep(a.dir); err != nil {
		return nil, err
	}
	text, err := readKeyFile(a.dir, authorityName)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		text, err = a.first()
		if err != nil {
			return nil, err
		}
	case err != nil:
		return nil, err
	}
	if err := a.load(text); err != nil {
		return nil, err
	}
	if err := a.checkExpiry(o.Now()); err != nil {
		return nil, err
	}
	if err := a.checkUse(); err != nil {
		return nil, err
	}
	a.profile, err = appleProfile(a.host, a.root.Raw)
	return a, err
}

// first makes the authority's file.
func (a *Authority) first() ([]byte, error) {
	if _, err := readKeyFile(a.dir, leafName); !errors.Is(err, fs.ErrNotExist) {
		return nil, problem.New(problem.Damaged, "put it back, or "+a.anew(),
			"%s is missing beside %s in %s", authorityName, leafName, a.dir)
	}
	now := a.o.Now()
	if err := checkClock(now, a.o.Built, time.Time{}); err != nil {
		return nil, err
	}
	text, err := newAuthority(a.host, a.names, now)
	if err != nil {
		return nil, err
	}
	a.o.Log.Info("made a certificate authority", "host", a.host, "also", a.names, "folder", a.dir)
	return text, writeKeyFile(a.dir, authorityName, text)
}

// checkExpiry refuses an authority that phones no longer trust.
func (a *Authority) checkExpiry(now time.Time) error {
	if end := a.root.NotAfter; now.After(end) {
		return problem.New(problem.Unsupported, "if the clock is right, "+a.anew(),
			"the certificate authority in %s expired on %s; the clock says %s", a.dir, day(end), day(now))
	}
	return nil
}

// checkUse refuses an authority that cannot vouch for this machine.
func (a *Authority) checkUse() error {
	if !a.permits(a.host) {
		return problem.New(problem.Conflict, fmt.Sprintf("start with --name %s, or %s", strings.TrimSuffix(a.madeFor(), local), a.anew()),
			"the certificate authority in %s was made for %s, not for %s", a.dir, a.madeFor(), a.host)
	}
	for _, name := range a.names {
		if !a.permits(name) {
			return problem.New(problem.Conflict, fmt.Sprintf("leave out --also %s, or %s", name, a.anew()),
				"the certificate authority in %s may not vouch for %s, which was added later", a.dir, name)
		}
	}
	return nil
}

// anew is the way out where the files cannot be used.
func (a *Authority) anew() string {
	return fmt.Sprintf("delete %s and %s in %s: the next start makes new ones, and every phone must then trust this machine anew",
		authorityName, leafName, a.dir)
}

// madeFor is the host that the root was made for.
func (a *Authority) madeFor() string { return a.root.PermittedDNSDomains[0] }

// permits says whether the root may vouch for a DNS name.
func (a *Authority) permits(name string) bool {
	for _, permitted := range a.root.PermittedDNSDomains {
		if name == permitted || strings.HasSuffix(name, "."+permitted) {
			return true
		}
	}
	return false
}

// Host is the machine's .local name, in lower case.
func (a *Authority) Host() string { return a.host }

// Expires is when phones stop trusting the root.
func (a *Authority) Expires() time.Time { return a.root.NotAfter }

// RootDER is the root certificate, for application/x-x509-ca-cert.
func (a *Authority) RootDER() []byte { return a.root.Raw }

// RootPEM is the root certificate as text.
func (a *Authority) RootPEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: certificateBlock, Bytes: a.root.Raw})
}

// Fingerprint is the SHA-256 of the root certificate as systems show it: pairs
// of capital hexadecimal digits between colons.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.root.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

// AppleProfile is the root certificate as an unsigned configuration profile, for
// application/x-apple-aspen-config.
func (a *Authority) AppleProfile() []byte { return a.profile }

func day(t time.Time) string { return t.UTC().Format(time.DateOnly) }
