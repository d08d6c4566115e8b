package main

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"time"

	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
)

// whoHasMain is the command whohas NAME: it asks all networks for a name by
// multicast DNS, with a message of its own, and prints the address.
func whoHasMain() {
	addr, err := askByHand(os.Args[1], 3*time.Second)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Println(addr)
}

// askByHand asks for the IPv4 address of a name, every half second until patience
// is over. It asks as simple resolvers do, from a port of its own, to which the
// answer comes (RFC 6762, 5.1 and 6.7), and knows nothing of the responder's library.
func askByHand(name string, patience time.Duration) (netip.Addr, error) {
	question := dnsmessage.Message{Header: dnsmessage.Header{ID: 78}, Questions: []dnsmessage.Question{
		{Name: dnsmessage.MustNewName(name + "."), Type: dnsmessage.TypeA, Class: dnsmessage.ClassINET}}}
	packed, err := question.Pack()
	if err != nil {
		return netip.Addr{}, err
	}
	conn, err := net.ListenUDP("udp4", nil)
	if err != nil {
		return netip.Addr{}, err
	}
	defer conn.Close()
	all, err := net.Interfaces()
	if err != nil {
		return netip.Addr{}, err
	}
	wide := ipv4.NewPacketConn(conn)
	buffer := make([]byte, 9000)
	for end := time.Now().Add(patience); time.Now().Before(end); {
		for _, network := range all {
			if network.Flags&net.FlagMulticast == 0 || network.Flags&net.FlagUp == 0 {
				continue
			}
			if err := wide.SetMulticastInterface(&network); err == nil {
				_, _ = conn.WriteTo(packed, &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}) // asked again below
			}
		}
		conn.SetReadDeadline(time.Now().Add(500 * time.Millisecond))
		n, err := conn.Read(buffer)
		var answer dnsmessage.Message
		if err != nil || answer.Unpack(buffer[:n]) != nil || answer.ID != 78 {
			continue
		}
		for _, record := range answer.Answers {
			if a, ok := record.Body.(*dnsmessage.AResource); ok {
				return netip.AddrFrom4(a.A), nil
			}
		}
	}
	return netip.Addr{}, errors.New("nobody has " + name)
}
