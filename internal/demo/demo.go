// Package demo invents seasons: one that never changes, so that a new team can
// look around before it has tested anything, and any number of others, for proving
// what the diagnosis finds.
//
// Season gives the journal of the robot club of Millrace School from February to
// November 2026: twelve packs named after birds, four people, two phones and a
// laptop. Story gives it with the truth that the club does not know; Invent draws
// another season with other packs and other faults. School, people and readings
// are invented. The readings come from an equivalent circuit of a pack
// (circuit.go), a meter and a load with their errors (bench.go); the story is
// written down day by day (cast.go, story.go), the others are drawn (invent.go). The same
// seed gives the same entries every time and everywhere.
package demo

import (
	"packwright/internal/diagnose"
	"packwright/internal/journal"
)

// Truth is something that is really wrong, and when.
type Truth struct {
	Pack    string // code; empty for the set-up of a test day
	Cause   diagnose.Cause
	FromMS  int64 // unix ms
	UntilMS int64 // unix ms; 0 where it was never mended
}

// Season is the invented season, in the order in which it happened.
func Season() []journal.Entry {
	entries, _ := Story()
	return entries
}

// Story is the invented season with the truth behind it.
func Story() ([]journal.Entry, []Truth) {
	d := newDiary(2026, 11)
	d.tell()
	return d.entries, d.truth
}
