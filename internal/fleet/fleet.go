// Package fleet folds a journal into the state of a fleet of battery packs.
//
// Use New, give it every entry with Add, in any order and as often as they
// come, then ask for an Overview or a Pack. The answers depend on the set of
// entries, and where a day is named on the clock, alone:
//
//   - entries count in the order of their clock stamps, with the id to break
//     ties, whenever they arrive;
//   - a setting is the last one written, field by field; what it overtook stays
//     in the history;
//   - an entry is voided by a later one that is not itself voided; voiding an
//     import voids the tests that came with it;
//   - results and decisions are computed from the raw readings each time, never
//     stored, so a better model improves old tests;
//   - kinds and versions that this program does not know change nothing.
//
// A Fleet is not safe for use by several goroutines at once.
package fleet

import (
	"cmp"
	"iter"
	"slices"
	"strings"

	"packwright/internal/journal"
	"packwright/internal/place"
	"packwright/internal/strictjson"
)

// Fleet is a set of entries and what they add up to.
type Fleet struct {
	items  map[string]*item // by entry id
	packs  map[string]*pack // by pack code
	team   []*item          // team-changed
	notes  []*item          // notes on the fleet
	voids  []*item
	closes []*item            // finding-closed
	tables []*item            // imports
	came   map[string][]*item // tests by the id of the import that they came with
	last   string             // greatest clock stamp
	ticks  map[string]*item   // the newest entry of each stamp; item.sameTick leads on
	cloned []string           // devices of which one stamp made two entries, in order

	shared int // changes that concern every pack: see Revision
	clock  place.Clock

	// What fold works out, valid until the next entry.
	folded     bool
	voidedBy   map[string]*item  // by the id of the voided entry
	voidedWith map[string]string // id of the import by the id of the test that was voided with it
	closedBy   map[string]*item  // by the id of the inspection entry
}

// pack holds the entries of one pack.
type pack struct {
	code   string
	items  []*item // in fold order after fold
	tests  []*item // oldest first after fold
	sorted bool
	voids  []string // ids of voiding entries that name no pack

	changes  int   // see Revision
	latestMS int64 // unix ms, the latest time that any of its entries names
}

// item is one entry with what was worked out from it.
type item struct {
	journal.Entry
	kind    journal.Kind // empty where this program cannot interpret the entry
	when    string       // sorts tests by the time they were taken
	decoded any          // the body, or why it cannot be read

	computed *computed
	ran      *ran
	named    times // see item.times
	sameTick *item // another entry with the same stamp
}

// New is a fleet without entries.
func New() *Fleet {
	return &Fleet{items: map[string]*item{}, packs: map[string]*pack{}, ticks: map[string]*item{}, came: map[string][]*item{}, cloned: []string{}}
}

// Add takes in one entry, which ParseEntry has passed; false says that it was
// there already. Of two entries with one id the first counts: refusing the
// other is the work of whoever keeps the journal.
func (f *Fleet) Add(e journal.Entry) (added bool) {
	if f.items[e.ID] != nil {
		return false
	}
	it := &item{Entry: e}
	if e.Known() {
		it.kind = e.Kind
	}
	f.items[e.ID] = it
	f.last = max(f.last, e.HLC)
	f.watch(it)
	f.folded = false
	if e.Pack != "" {
		p := f.packs[e.Pack]
		if p == nil {
			p = &pack{code: e.Pack}
			f.packs[e.Pack] = p
		}
		p.items = append(p.items, it)
		p.sorted = false
		p.latestMS = max(p.latestMS, it.times().latest())
	}
	switch it.kind {
	case journal.TeamChanged:
		f.team = append(f.team, it)
	case journal.Voided:
		f.voids = append(f.voids, it)
	case journal.FindingClosed:
		f.closes = append(f.closes, it)
	case journal.Imported:
		f.tables = append(f.tables, it)
	case journal.LoadTest, journal.DirectReading:
		if id := it.importID(); id != "" {
			f.came[id] = append(f.came[id], it)
		}
	case journal.Noted:
		if e.Pack == "" {
			f.notes = append(f.notes, it)
		}
	}
	f.touch(it)
	return true
}

// SetClock says by whose clock days are told. It is UTC until then.
func (f *Fleet) SetClock(c place.Clock) {
	if !slices.Equal(c, f.clock) {
		f.clock = c
		f.shared++
	}
}

// Clock is that of SetClock.
func (f *Fleet) Clock() place.Clock { return f.clock }

// Len is the number of entries.
func (f *Fleet) Len() int { return len(f.items) }

// LastHLC is the greatest clock stamp of all entries; empty where there are none.
func (f *Fleet) LastHLC() string { return f.last }

// Has says whether there is a pack of this code: anything that happened to it
// and was not voided.
func (f *Fleet) Has(code string) bool {
	f.fold()
	p := f.packs[code]
	return p != nil && f.alive(p)
}

// Codes are the codes of all packs that Has confirms, in no order.
func (f *Fleet) Codes() iter.Seq[string] {
	f.fold()
	return func(yield func(string) bool) {
		for code, p := range f.packs {
			if f.alive(p) && !yield(code) {
				return
			}
		}
	}
}

// fold puts the entries in order and works out what voids and closes what.
func (f *Fleet) fold() {
	if f.folded {
		return
	}
	f.folded = true
	for _, p := range f.packs {
		p.sort()
		p.voids = nil
	}
	for _, list := range [][]*item{f.team, f.notes, f.voids, f.closes, f.tables} {
		slices.SortFunc(list, inOrder)
	}
	f.resolveVoids()
	f.voidImported()
	f.closedBy = map[string]*item{}
	for _, it := range f.closes {
		if c, ok := it.content().(*journal.FindingClose); ok && !f.voided(it) && f.follows(it, c.Entry) {
			f.closedBy[c.Entry] = it
		}
	}
}

// resolveVoids goes through the voiding entries from the last to the first. An
// entry is voided only by later ones, so whether a voiding entry counts is
// settled before it is looked at, and no circle can arise.
func (f *Fleet) resolveVoids() {
	f.voidedBy = map[string]*item{}
	for _, it := range slices.Backward(f.voids) {
		v, ok := it.content().(*journal.Void)
		if !ok {
			continue
		}
		target := f.items[v.Entry]
		if target != nil && it.Pack == "" && target.Pack != "" {
			p := f.packs[target.Pack]
			p.voids = append(p.voids, it.ID)
		}
		if f.voided(it) || !f.follows(it, v.Entry) || f.voidedBy[v.Entry] != nil {
			continue
		}
		f.voidedBy[v.Entry] = it
	}
}

// voidImported voids the tests of voided imports, whenever they came.
func (f *Fleet) voidImported() {
	f.voidedWith = map[string]string{}
	for _, table := range f.tables {
		by := f.voidedBy[table.ID]
		if by == nil {
			continue
		}
		for _, it := range f.came[table.ID] {
			if f.voidedBy[it.ID] == nil {
				f.voidedBy[it.ID] = by
				f.voidedWith[it.ID] = table.ID
			}
		}
	}
}

func (f *Fleet) voided(it *item) bool { return f.voidedBy[it.ID] != nil }

// follows says whether it comes after the entry of that id, which must be there.
func (f *Fleet) follows(it *item, id string) bool {
	target := f.items[id]
	return target != nil && inOrder(target, it) < 0
}

// alive says whether a pack has an entry that counts, other than voiding ones.
func (f *Fleet) alive(p *pack) bool {
	return slices.ContainsFunc(p.items, func(it *item) bool {
		return it.kind != journal.Voided && !f.voided(it)
	})
}

// sort puts a pack's entries in fold order and its tests in order of time.
func (p *pack) sort() {
	if p.sorted {
		return
	}
	p.sorted = true
	slices.SortFunc(p.items, inOrder)
	p.tests = p.tests[:0]
	for _, it := range p.items {
		if it.isTest() {
			if it.when == "" {
				it.when = it.testOrder()
			}
			p.tests = append(p.tests, it)
		}
	}
	slices.SortFunc(p.tests, func(a, b *item) int { return cmp.Or(strings.Compare(a.when, b.when), inOrder(a, b)) })
}

// inOrder is the order in which entries count.
func inOrder(a, b *item) int {
	return cmp.Or(strings.Compare(a.HLC, b.HLC), strings.Compare(a.ID, b.ID))
}

func (it *item) isTest() bool {
	return it.kind == journal.LoadTest || it.kind == journal.DirectReading
}

// content is an entry's body, decoded once: a pointer to the type that its kind
// has, or an error. What a journal refuses cannot be here; should it be, the
// entry has no content of the type asked for and changes nothing.
func (it *item) content() any {
	if it.decoded == nil {
		it.decoded = journal.NewBody(it.kind)
		if err := strictjson.Decode(it.Body, it.decoded); err != nil {
			it.decoded = err
		}
	}
	return it.decoded
}
