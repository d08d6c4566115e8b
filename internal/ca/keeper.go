package ca

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"packwright/internal/problem"
)

const (
	renewBefore = 30 * 24 * time.Hour // a certificate with less than this left is renewed
	lookEvery   = 10 * time.Second    // how soon a phone can come in by a new address
)

// Keeper holds the server's certificate and renews it. Its methods may be
// called at the same time from several goroutines.
type Keeper struct {
	a      *Authority
	wanted func() ([]string, []netip.Addr)
	now    atomic.Pointer[tls.Certificate] // what is served

	mu   sync.Mutex // one renewal at a time
	said string     // the last trouble that was logged
}

// NewKeeper gives a keeper that starts with the certificate of last time, if
// there is one. Each certificate is for the host, what Options.Also adds, and what
// wanted gives at the time: names that the root permits, and addresses, of
// which those that are not private are left out. wanted may be nil.
func NewKeeper(a *Authority, wanted func() ([]string, []netip.Addr)) *Keeper {
	if wanted == nil {
		wanted = func() ([]string, []netip.Addr) { return nil, nil }
	}
	k := &Keeper{a: a, wanted: wanted}
	last, err := a.lastLeaf()
	if err == nil {
		k.now.Store(last)
	} else if !errors.Is(err, fs.ErrNotExist) {
		a.o.Log.Warn("the last certificate is not used, a new one is made", "err", err)
	}
	return k
}

// GetCertificate is for tls.Config.
func (k *Keeper) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	if c := k.now.Load(); c != nil {
		return c, nil
	}
	return nil, errors.New("there is no certificate yet")
}

// Expires is when the certificate ends; zero before the first Refresh.
func (k *Keeper) Expires() time.Time {
	if c := k.now.Load(); c != nil {
		return c.Leaf.NotAfter
	}
	return time.Time{}
}

// Run refreshes until ctx ends, every ten seconds: a look costs little, and a
// new certificate is made only when there is a reason.
func (k *Keeper) Run(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			_ = k.Refresh() // has said so in the log
		}
	}
}

// Refresh makes a new certificate if there is none, if less than thirty days of it
// are left, or if a name or an address is new. Where that fails the log says
// why and the certificate so far stays in use; an error, Invalid for a clock
// that cannot be right, means that this one has expired or that there is none.
func (k *Keeper) Refresh() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.a.o.Now()
	err := k.refresh(now)
	if said := fmt.Sprint(err); err != nil && said != k.said {
		k.said = said
		k.a.o.Log.Warn("the certificate is not renewed", "err", err)
	} else if err == nil {
		k.said = ""
	}
	if now.Before(k.Expires()) {
		return nil
	}
	return err
}

func (k *Keeper) refresh(now time.Time) error {
	names, addrs := k.wanted()
	names, addrs = k.a.wantedNames(names), k.a.wantedAddrs(addrs)
	why := k.a.outdated(k.now.Load(), names, addrs, now)
	if why == "" {
		return nil
	}
	for _, name := range names {
		if !k.a.permits(name) {
			return problem.New(problem.Conflict, "leave it out, or "+k.a.anew(),
				"the certificate authority in %s may not vouch for %s", k.a.dir, name)
		}
	}
	if err := errors.Join(k.a.checkExpiry(now), checkClock(now, k.a.o.Built, k.a.root.NotBefore)); err != nil {
		return err
	}
	leaf, key, err := k.a.newLeaf(names, addrs, now)
	if err != nil {
		return err
	}
	k.now.Store(k.a.chain(leaf, key))
	k.a.o.Log.Info("made a certificate", "why", why, "names", names, "addresses", addrs, "until", day(leaf.NotAfter))
	text, err := encode("Secret: the server's certificate of now, made anew when it is missing.", key, leaf)
	if err == nil {
		err = writeKeyFile(k.a.dir, leafName, text)
	}
	if err != nil { // it serves all the same, until the next start makes another
		k.a.o.Log.Warn("the certificate is not saved", "err", err)
	}
	return nil
}

// outdated says why a certificate has to be made, or "".
func (a *Authority) outdated(c *tls.Certificate, names []string, addrs []netip.Addr, now time.Time) string {
	if c == nil {
		return "there is none"
	}
	for _, name := range names {
		if !slices.Contains(c.Leaf.DNSNames, name) {
			return name + " is new"
		}
	}
	for _, addr := range addrs {
		if !slices.ContainsFunc(c.Leaf.IPAddresses, net.IP(addr.AsSlice()).Equal) {
			return addr.String() + " is new"
		}
	}
	switch left := c.Leaf.NotAfter.Sub(now); {
	case now.Before(c.Leaf.NotBefore):
		return "it was made with a clock that was ahead"
	case left <= 0, left < renewBefore && c.Leaf.NotAfter.Before(a.issuer.NotAfter): // none outlives its issuer
		return "it ends on " + day(c.Leaf.NotAfter)
	}
	return ""
}

// GetFresh is for tls.Config too, where a browser is to say whether it trusts the
// authority: each connection gets a certificate of its own. A warning that
// somebody clicked away is remembered for the certificate it was about, and so
// never covers this one. It holds the names and addresses of the one in use.
func (k *Keeper) GetFresh(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	used, err := k.GetCertificate(nil)
	if err != nil {
		return nil, err
	}
	var addrs []netip.Addr
	for _, ip := range used.Leaf.IPAddresses {
		if addr, ok := netip.AddrFromSlice(ip); ok {
			addrs = append(addrs, addr.Unmap())
		}
	}
	leaf, key, err := k.a.newLeaf(used.Leaf.DNSNames, addrs, k.a.o.Now())
	if err != nil {
		return nil, err
	}
	return k.a.chain(leaf, key), nil
}
