package fleet

import (
	"bytes"
	"cmp"
	"slices"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/order"
	"packwright/internal/place"
)

// importID is the id of the import that a test came with; empty for most.
func (it *item) importID() string {
	if !bytes.Contains(it.Body, []byte(`"import"`)) { // most have none, and need no decoding
		return ""
	}
	switch b := it.content().(type) {
	case *loadtest.Test:
		return b.Import
	case *loadtest.Direct:
		return b.Import
	}
	return ""
}

// imports lists the tables of old tests, newest first.
func (f *Fleet) imports(nowMS int64) []Import {
	list := []Import{}
	for _, it := range slices.Backward(f.tables) {
		b, ok := it.content().(*journal.Import)
		if !ok {
			continue
		}
		view := Import{Stamp: f.stamp(it, nowMS), Import: *b}
		for _, test := range f.came[it.ID] {
			if !f.voided(test) {
				view.Tests++
			}
		}
		list = append(list, view)
	}
	return list
}

// day is noon of the day that a repair names, where it names one: which tests of
// that day came before it nobody knows.
func (it *item) day(clock place.Clock) (ms int64, ok bool) {
	if it.kind != journal.Repaired {
		return 0, false
	}
	b, ok := it.content().(*journal.Repair)
	if !ok {
		return 0, false
	}
	return clock.Noon(b.Day)
}

// events lists what happened to a pack besides tests, each list newest first.
func (f *Fleet) events(p *pack, profile Profile, team Team, nowMS int64) (repairs []Repair, charges []Charge, runs []Run, wiggles []Wiggle) {
	repairs, charges, runs, wiggles = []Repair{}, []Charge{}, []Run{}, []Wiggle{}
	for _, it := range slices.Backward(p.items) {
		switch it.kind {
		case journal.Repaired, journal.Charged, journal.RunLogged, journal.Wiggled:
		default:
			continue
		}
		stamp := f.stamp(it, nowMS)
		switch b := it.content().(type) {
		case *journal.Repair:
			repairs = append(repairs, Repair{Stamp: stamp, Part: b.Part, Text: b.Text, Baseline: b.Part != journal.RepairOther})
		case *journal.Charge:
			c := Charge{Stamp: stamp, Charge: *b}
			c.StartedMS, _ = place.TimeMS(b.StartedAt)
			if ended, ok := place.TimeMS(b.EndedAt); ok {
				c.EndedMS = &ended
			}
			charges = append(charges, c)
		case *journal.Run:
			runs = append(runs, it.run(b, stamp, profile, team))
		case *journal.Wiggle:
			wiggles = append(wiggles, Wiggle{Stamp: stamp, Wiggle: *b})
		}
	}
	order.Stable(repairs, func(a, b *Repair) int { return cmp.Compare(b.AtMS, a.AtMS) })
	order.Stable(charges, func(a, b *Charge) int { return cmp.Compare(b.StartedMS, a.StartedMS) })
	order.Stable(runs, func(a, b *Run) int { return cmp.Compare(b.StartedMS, a.StartedMS) })
	return repairs, charges, runs, wiggles
}
