package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/pion/mdns/v2"
	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// announceEvery is how often the machine's networks are looked at again. Until then
// a phone may be told the old address, which it keeps for a minute or two.
const announceEvery = time.Second

// announce answers multicast DNS questions (RFC 6762) for names such as
// "pit.local" on every private network of this machine, until ctx ends. The
// responder remembers the networks it found, so it is started again when they
// change. Without one there is only the number to open: that is logged.
func announce(ctx context.Context, log *slog.Logger, names ...string) {
	var (
		responder *mdns.Conn
		known     = "not looked yet"
	)
	defer func() { closeResponder(responder) }()
	tick := time.NewTicker(announceEvery)
	defer tick.Stop()
	for {
		if networks, state := privateNetworks(); state != known {
			known = state
			closeResponder(responder)
			var err error
			if responder, err = respond(networks, false, names...); err != nil {
				log.Warn("the name cannot be announced here: open the number instead", "name", strings.Join(names, ", "), "err", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// respond starts a responder on the networks.
func respond(networks []net.Interface, loopback bool, names ...string) (*mdns.Conn, error) {
	if len(networks) == 0 {
		return nil, fmt.Errorf("this machine is in no private network")
	}
	four, err4 := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(224, 0, 0, 0), Port: 5353})
	six, err6 := net.ListenUDP("udp6", &net.UDPAddr{IP: net.ParseIP("ff02::"), Port: 5353})
	var (
		packets4 *ipv4.PacketConn
		packets6 *ipv6.PacketConn
	)
	if err4 == nil {
		packets4 = ipv4.NewPacketConn(four)
	}
	if err6 == nil {
		packets6 = ipv6.NewPacketConn(six)
	}
	if packets4 == nil && packets6 == nil {
		return nil, err4
	}
	responder, err := mdns.NewServer(packets4, packets6, mdns.WithLocalNames(names...), mdns.WithInterfaces(networks...),
		mdns.WithRecordTypes(dnsmessage.TypeA, dnsmessage.TypeAAAA), mdns.WithCacheRefresh(false), mdns.WithIncludeLoopback(loopback))
	if err != nil {
		if packets4 != nil {
			packets4.Close()
		}
		if packets6 != nil {
			packets6.Close()
		}
		return nil, err
	}
	return responder, nil
}

func closeResponder(responder *mdns.Conn) {
	if responder != nil {
		responder.Close()
	}
}

// privateNetworks gives the interfaces that are up and have a private or
// link-local address, and a text that changes when they or their addresses do.
func privateNetworks() (networks []net.Interface, state string) {
	all, err := net.Interfaces()
	if err != nil {
		return nil, ""
	}
	var seen []string
	for _, network := range all {
		addrs, err := network.Addrs()
		if err != nil || network.Flags&net.FlagUp == 0 || network.Flags&net.FlagLoopback != 0 {
			continue
		}
		private := slices.ContainsFunc(addrs, func(addr net.Addr) bool {
			ip, _, err := net.ParseCIDR(addr.String())
			return err == nil && (ip.IsPrivate() || ip.IsLinkLocalUnicast())
		})
		if private {
			networks = append(networks, network)
			seen = append(seen, fmt.Sprint(network.Index, addrs))
		}
	}
	return networks, strings.Join(seen, " ")
}

// askNetworks asks the private networks for a name and gives the first address
// that is answered; an invalid one where nobody did before ctx ended.
func askNetworks(ctx context.Context, name string) (netip.Addr, error) {
	networks, _ := privateNetworks()
	return askOn(ctx, networks, false, name)
}

func askOn(ctx context.Context, networks []net.Interface, loopback bool, name string) (netip.Addr, error) {
	asking, err := respond(networks, loopback)
	if err != nil {
		return netip.Addr{}, err
	}
	defer closeResponder(asking)
	_, addr, err := asking.QueryAddr(ctx, name)
	if err != nil {
		return netip.Addr{}, nil // nobody: the time is over
	}
	return addr.Unmap(), nil
}
