package main

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// neighboursFor is how long the machine's networks are believed.
const neighboursFor = 10 * time.Second

// neighbours knows the IPv6 networks that this machine is in.
type neighbours struct {
	own func() ([]net.Addr, error) // the machine's addresses

	mu       sync.Mutex
	networks map[netip.Prefix]bool // each /64
	until    time.Time
}

// include says whether an address is in a /64 network with this machine.
func (n *neighbours) include(addr netip.Addr, now time.Time) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	if !now.Before(n.until) {
		n.networks, n.until = map[netip.Prefix]bool{}, now.Add(neighboursFor)
		own, err := n.own()
		if err != nil {
			return false // asked again later
		}
		for _, a := range own {
			if prefix, err := netip.ParsePrefix(a.String()); err == nil && prefix.Addr().Is6() {
				n.networks[network64(prefix.Addr())] = true
			}
		}
	}
	return n.networks[network64(addr)]
}

// network64 is the /64 network of an IPv6 address.
func network64(addr netip.Addr) netip.Prefix {
	return netip.PrefixFrom(addr.WithZone(""), 64).Masked()
}
