package ca

import (
	"net"
	"net/netip"
	"slices"
)

// Addresses gives the addresses of this machine that others can reach and the
// authority may vouch for, sorted, IPv4 first: private and unique local ones, and
// IPv4 link-local ones. Those of IPv6 (fe80::) are left out, because no browser
// takes one in an address, and virtual interfaces make new ones all the time.
func Addresses() ([]netip.Addr, error) {
	interfaces, err := net.Interfaces()
	if err != nil {
		return nil, err
	}
	var found []netip.Addr
	for _, i := range interfaces {
		if i.Flags&net.FlagUp == 0 || i.Flags&net.FlagLoopback != 0 {
			continue
		}
		addrs, err := i.Addrs()
		if err != nil {
			continue // it went away in between
		}
		for _, a := range addrs {
			if prefix, err := netip.ParsePrefix(a.String()); err == nil && usable(prefix.Addr().Unmap()) {
				found = append(found, prefix.Addr().Unmap())
			}
		}
	}
	slices.SortFunc(found, netip.Addr.Compare)
	return slices.Compact(found), nil
}

// usable says whether a browser can be sent to an address.
func usable(addr netip.Addr) bool {
	return private(addr) && (addr.Is4() || !addr.IsLinkLocalUnicast())
}
