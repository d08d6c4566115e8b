package ca

import (
	"net/netip"
	"slices"
	"strings"

	"golang.org/x/net/publicsuffix"

	"packwright/internal/problem"
)

// local ends the names of multicast DNS (RFC 6762).
const local = ".local"

// privateRanges are the addresses that the authority may vouch for: private
// (RFC 1918), unique local (RFC 4193) and link-local (RFC 3927, RFC 4291) ones.
// A root that names only DNS names would permit every address. checkAuthority
// knows a root of ours by them: who changes them must think of the old ones there.
func privateRanges() []netip.Prefix {
	return []netip.Prefix{
		netip.MustParsePrefix("10.0.0.0/8"),
		netip.MustParsePrefix("172.16.0.0/12"),
		netip.MustParsePrefix("192.168.0.0/16"),
		netip.MustParsePrefix("169.254.0.0/16"),
		netip.MustParsePrefix("fc00::/7"),
		netip.MustParsePrefix("fe80::/10"),
	}
}

// private says whether the authority may vouch for an address without a zone.
func private(addr netip.Addr) bool {
	return slices.ContainsFunc(privateRanges(), func(p netip.Prefix) bool { return p.Contains(addr) })
}

// cleanHost checks the machine's own name.
func cleanHost(text string) (string, error) {
	host, ok := cleanName(text)
	label, isLocal := strings.CutSuffix(host, local)
	if !ok || !isLocal || label == "" || strings.Contains(label, ".") {
		return "", problem.Invalidf("name", "use letters, digits and hyphens only, as in --name pit, which makes pit.local",
			"%q cannot be this machine's name on the network", text)
	}
	return host, nil
}

// cleanAlso sorts what the user adds into names and addresses.
//
// Public names are permitted as they stand: a school's own DNS may know the
// machine, and the user says so. Phones would believe the authority for every
// name below, so what many share (com, co.uk, a single word) is refused. Public
// addresses are refused: they are lent and move on to others.
func cleanAlso(also []string) (names []string, addrs []netip.Addr, err error) {
	for _, text := range also {
		if addr, err := netip.ParseAddr(text); err == nil {
			addr = addr.Unmap().WithZone("")
			if !private(addr) {
				return nil, nil, problem.Invalidf("also", "give a private address, as in 192.168.1.10, or a name",
					"%s is not a private address", text)
			}
			addrs = append(addrs, addr)
			continue
		}
		name, ok := cleanName(text)
		if !ok {
			return nil, nil, problem.Invalidf("also", "give the name alone, without https:// and port, as in pit.example.org; other alphabets as xn--…",
				"%q is neither a name nor an address", text)
		}
		if suffix, _ := publicsuffix.PublicSuffix(name); suffix == name {
			return nil, nil, problem.Invalidf("also", "give the machine's full name, as in pit."+name,
				"%s is shared by many machines", name)
		}
		names = append(names, name)
	}
	return names, addrs, nil
}

// cleanName gives a DNS name in lower case, without the dot at its end: labels
// of letters, digits and hyphens (RFC 1123, 2.1).
func cleanName(text string) (string, bool) {
	name := strings.ToLower(strings.TrimSuffix(text, "."))
	labels := strings.Split(name, ".")
	for _, label := range labels {
		if label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' ||
			strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
			return "", false
		}
	}
	last := labels[len(labels)-1]
	return name, len(name) <= 253 && strings.Trim(last, "0123456789") != ""
}
