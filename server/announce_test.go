package main

import (
	"net"
	"net/netip"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

// TestRespond asks the responder as an independent resolver would, with a message
// of its own (RFC 1035; RFC 6762, 6.7: a question from another port than 5353 is
// answered to that port). It needs port 5353 to be shared, as it is on a machine
// with a responder of its own.
func TestRespond(t *testing.T) {
	responder, err := respond(loopbackNetworks(t), true, "pit.local")
	if err != nil {
		t.Skipf("no multicast DNS here: %v", err)
	}
	defer responder.Close()
	conn, err := net.Dial("udp", "127.0.0.1:5353")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	for _, c := range []struct {
		name string
		want string
	}{{"pit.local.", "127.0.0.1"}, {"PIT.local.", "127.0.0.1"}, {"other.local.", ""}} {
		question := dnsmessage.Message{Header: dnsmessage.Header{ID: 77}, Questions: []dnsmessage.Question{
			{Name: dnsmessage.MustNewName(c.name), Type: dnsmessage.TypeA, Class: dnsmessage.ClassINET}}}
		packed, err := question.Pack()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := conn.Write(packed); err != nil {
			t.Fatal(err)
		}
		conn.SetReadDeadline(time.Now().Add(time.Second))
		got := ""
		buffer := make([]byte, 9000)
		if n, err := conn.Read(buffer); err == nil {
			var answer dnsmessage.Message
			if err := answer.Unpack(buffer[:n]); err != nil || answer.ID != 77 || len(answer.Answers) != 1 {
				t.Fatalf("%s: %v, %+v", c.name, err, answer)
			}
			if a, ok := answer.Answers[0].Body.(*dnsmessage.AResource); ok {
				got = netip.AddrFrom4(a.A).String()
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func loopbackNetworks(t *testing.T) (found []net.Interface) {
	t.Helper()
	all, err := net.Interfaces()
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range all {
		if i.Flags&net.FlagLoopback != 0 && i.Flags&net.FlagUp != 0 {
			found = append(found, i)
		}
	}
	return found
}

func TestRespondNowhere(t *testing.T) {
	if _, err := respond(nil, false, "pit.local"); err == nil {
		t.Error("a responder on no network")
	}
}
