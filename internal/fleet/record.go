package fleet

import (
	"slices"

	"packwright/internal/journal"
)

// Record is a pack's history without decisions: what trends and findings are
// worked out from.
type Record struct {
	Profile Profile
	Tests   []Test // oldest first, voided ones among them; their decisions are empty
	Repairs []Repair
	Charges []Charge
	Runs    []Run
	Wiggles []Wiggle
	Safety  []string // open safety findings in words, oldest first
}

// Record is the history of a pack; ok is false where there is none. nowMS is
// the present in unix ms.
func (f *Fleet) Record(code string, nowMS int64) (r Record, ok bool) {
	f.fold()
	p := f.packs[code]
	if p == nil {
		return r, false
	}
	r.Profile = f.profile(p)
	o := options(r.Profile)
	r.Tests = make([]Test, 0, len(p.tests))
	for _, it := range p.tests {
		r.Tests = append(r.Tests, f.measured(it, o, nowMS))
	}
	r.Safety = openSafety(f.findings(p, nowMS))
	r.Repairs, r.Charges, r.Runs, r.Wiggles = f.events(p, r.Profile, f.Team(), nowMS)
	return r, true
}

// Revision stands for all that a Record and the team's settings tell: while it
// stays the same, so do they. It means nothing to another Fleet.
type Revision struct {
	pack, shared int
	clocks       uint64
}

// Revision is that of a pack at a time.
func (f *Fleet) Revision(code string, nowMS int64) Revision {
	p := f.packs[code]
	r := Revision{shared: f.shared}
	if p == nil {
		return r
	}
	r.pack = p.changes
	// A clock that is wrong now stays so, unless a time was still to come.
	if nowMS > 0 && p.latestMS <= nowMS+dayMS {
		return r
	}
	f.fold()
	r.clocks = 1
	for _, it := range p.items {
		r.clocks *= 1_099_511_628_211 // as in the hash of Fowler, Noll and Vo
		if _, off := f.at(it, nowMS); off {
			r.clocks ^= 1
		}
	}
	return r
}

// touch notes what a new entry may change: its pack, and all that it voids,
// voids the voiding of, and so on. What is not here yet notes it when it comes.
func (f *Fleet) touch(it *item) {
	for range len(f.voids) + 2 { // a chain of voids may be a circle
		if it.kind == journal.TeamChanged || it.kind == journal.Imported {
			f.shared++
		}
		if p := f.packs[it.Pack]; p != nil {
			p.changes++
		}
		if it.kind != journal.Voided {
			return
		}
		v, ok := it.content().(*journal.Void)
		if !ok || f.items[v.Entry] == nil {
			return
		}
		it = f.items[v.Entry]
	}
}

// latest is the latest of the times by which an entry's clock is judged.
func (t *times) latest() int64 { return max(t.rawMS, t.stampMS, t.takenMS) }

// SortedCodes are the codes of all packs that Has confirms, in order.
func (f *Fleet) SortedCodes() []string {
	var list []string
	for code := range f.Codes() {
		list = append(list, code)
	}
	slices.Sort(list)
	return list
}
