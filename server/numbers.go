package main

import (
	"context"
	"log/slog"
	"net/netip"
	"slices"
	"strings"
	"time"

	"packwright/internal/ca"
)

// numbered is how this machine is reached by one of its numbers.
type numbered struct {
	Welcome string `json:"welcome"` // address of the welcome page
	Join    string `json:"join"`    // address where a device joins
}

// numbers gives the addresses as numbers, for phones that do not find the name.
func (f *field) numbers() []numbered {
	var all []numbered
	for _, addr := range ownNumbers() {
		host := addr.String()
		if addr.Is6() {
			host = "[" + host + "]"
		}
		all = append(all, numbered{
			Welcome: "http://" + host + portSuffix(f.plain, "80"),
			Join:    "https://" + host + portSuffix(f.secure, "443") + "/join",
		})
	}
	return all
}

// welcomes are the addresses of the welcome page among them.
func welcomes(numbers []numbered) string {
	var all []string
	for _, n := range numbers {
		all = append(all, n.Welcome)
	}
	return strings.Join(all, " or ")
}

// typedNumbers are the addresses of this machine that people can type: those of
// IPv4, or else those of IPv6 that need no zone.
func typedNumbers(addrs []netip.Addr) []netip.Addr {
	var four, six []netip.Addr
	for _, addr := range addrs {
		switch {
		case addr.Is4() && !slices.Contains(four, addr):
			four = append(four, addr)
		case addr.Is6() && !addr.IsLinkLocalUnicast() && !slices.Contains(six, addr):
			six = append(six, addr)
		}
	}
	if len(four) > 0 {
		return four
	}
	return six
}

// ownNumbers are those of now.
func ownNumbers() []netip.Addr {
	addrs, err := ca.Addresses()
	if err != nil {
		return nil
	}
	return typedNumbers(addrs)
}

// numbersEvery is how soon the terminal names a new number.
const numbersEvery = 2 * time.Second

// tellMoves logs the addresses to open whenever the machine's numbers change, until
// ctx ends: what the terminal showed at the start is wrong from then on.
func tellMoves(ctx context.Context, log *slog.Logger, every time.Duration, numbers func() []numbered) {
	known := numbers()
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		found := numbers()
		if slices.Equal(found, known) {
			continue
		}
		if known = found; len(known) == 0 {
			log.Warn("this machine is in no network any more: phones cannot reach it")
			continue
		}
		log.Warn("this machine has another number: phones that do not find its name open the new one",
			"welcome", welcomes(known), "app", known[0].Join)
	}
}
