package main

import (
	"context"
	"net"
	"net/netip"
	"strings"
	"time"
)

// How long the system, and then the networks, may take to find a name. Without
// internet the system's own servers often do not answer at all.
const (
	lookupPatience = 3 * time.Second
	askPatience    = 3 * time.Second
)

// finder dials by names that the system may not be able to look up: Go without cgo
// knows no multicast DNS, and neither do some systems.
type finder struct {
	dial   func(ctx context.Context, network, address string) (net.Conn, error)
	lookup func(ctx context.Context, network, host string) ([]netip.Addr, error) // of the system
	ask    func(ctx context.Context, name string) (netip.Addr, error)            // of the networks; invalid: nobody answered
}

func newFinder() finder {
	return finder{(&net.Dialer{Timeout: 15 * time.Second}).DialContext, net.DefaultResolver.LookupNetIP, askNetworks}
}

// DialContext dials an address as a net.Dialer does. For a name that ends in
// .local the networks are asked where the system cannot tell.
func (f finder) DialContext(ctx context.Context, network, address string) (net.Conn, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil || !strings.HasSuffix(hostName(host), ".local") {
		return f.dial(ctx, network, address)
	}
	limited, cancel := context.WithTimeout(ctx, lookupPatience)
	defer cancel()
	if _, err = f.lookup(limited, "ip", host); err == nil {
		return f.dial(ctx, network, address)
	}
	limited, cancel = context.WithTimeout(ctx, askPatience)
	defer cancel()
	addr, askErr := f.ask(limited, hostName(host))
	if askErr != nil || !addr.IsValid() {
		return nil, err // the system's, which says that it is about the name
	}
	return f.dial(ctx, network, net.JoinHostPort(addr.String(), port))
}
