package main

import (
	"testing"

	"packwright/internal/demo"
	"packwright/internal/store"
)

// The invented season goes into an empty journal, and on into one that has part of
// it, whatever else stands there; a journal with real entries only does not take it.
func TestDemoStaysOutOfRealJournals(t *testing.T) {
	season := demo.Season()
	s, _ := openTest(t)
	for _, batch := range [][]byte{push(season[:50]...), push(note(1, "tried out")), push(season[40:]...)} {
		for _, r := range pushed(t, s, batch).Results {
			if r.Status != store.Accepted && r.Status != store.Duplicate {
				t.Fatalf("in a demo journal: %+v", r)
			}
		}
	}
	s, _ = openTest(t)
	pushed(t, s, push(note(1, "real")))
	results := pushed(t, s, push(season[0], note(2, "real, too"), season[1])).Results
	for i, want := range []store.Status{store.Refused, store.Accepted, store.Refused} {
		if r := results[i]; r.Status != want || r.ID == "" || (want == store.Refused) != (r.Reason != "" && r.Hint != "") {
			t.Errorf("entry %d: %+v", i, r)
		}
	}
	if n := head(t, s); n != 2 {
		t.Errorf("the real journal has %d entries", n)
	}
}
