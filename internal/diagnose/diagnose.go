// Package diagnose says what the tests of a fleet point to: cells that age, a
// bad contact, a lost cell, a test that was not fit to compare, a day on which
// the set-up was off, high self-discharge, lost capacity.
//
// Use this first: Survey all packs of the fleet once, then Examine each by its
// code. The function Examine does both for one pack. SetUpDays lists the days on which
// the set-up was off; JudgeWiggle judges a wiggle test.
//
// Every rule is a small function in a file named after its cause. What it rests on
// is in Finding.Rule: a published source, common practice without one, or a rule of
// our own. What sources disagree on is in Rules.
//
// What is compared with what. A pack is compared with itself first: its own
// history since its latest repair, because good cells of two kinds differ
// fivefold in resistance. Then with its sisters of the same day: what all of
// them show together is not the pack. Tests taken when a pack was not ready, or on
// a day when the set-up was off, are reported as that and say nothing about cells
// or contacts. Resistances are brought to 20 °C where the temperature was noted.
//
// The work grows with the number of tests n as n·log n.
package diagnose

import (
	"cmp"
	"slices"

	"packwright/internal/order"
	"packwright/internal/trend"
)

// Fleet is a surveyed fleet.
type Fleet struct {
	rules   Rules
	packs   map[string]*history
	ordered []*history
	days    []Day
	sigma   float64 // usual scatter of one pack from test day to test day, share of its level
}

// Survey looks over all packs of a fleet, retired ones among them.
func Survey(packs []Pack, r Rules) *Fleet {
	f := &Fleet{rules: r.filled(), packs: make(map[string]*history, len(packs))}
	for i := range packs {
		if f.packs[packs[i].Code] == nil {
			h := newHistory(&packs[i], &f.rules)
			h.order = len(f.ordered)
			f.packs[h.Code] = h
			f.ordered = append(f.ordered, h)
		}
	}
	f.readOpenVoltages()
	rigs := map[string]int{}
	for _, h := range f.ordered {
		h.gather(rigs)
	}
	f.findSetUpDays()
	f.sigma = f.usualScatter()
	return f
}

// Examine says what the history of one pack of the fleet points to. limitOhm is the limit
// for competition, 0 for none; analysis is the pack's trend, for the date in a
// sentence, and may be nil. A pack that was not surveyed has no findings.
func (f *Fleet) Examine(code string, limitOhm float64, analysis *trend.Analysis) Report {
	report := Report{Findings: []Finding{}}
	h := f.packs[code]
	if h == nil {
		return report
	}
	add := func(found *Finding) {
		if found != nil {
			report.Findings = append(report.Findings, *found)
		}
	}
	add(h.lostCell())
	contact := h.contact(f.sigma)
	for i := range contact {
		add(&contact[i])
	}
	add(h.ageing(f.sigma, limitOhm, analysis))
	add(h.capacityFade())
	add(h.selfDischarge())
	for i := range f.days {
		add(f.days[i].of(h))
	}
	add(h.notReady())
	order.Stable(report.Findings, bySeriousness)
	report.NextTest = h.nextTest(report.Findings, limitOhm)
	return report
}

// LostCell is the finding of Examine that a cell is lost, without the rest; nil
// where there is none.
func (f *Fleet) LostCell(code string) *Finding {
	if h := f.packs[code]; h != nil {
		return h.lostCell()
	}
	return nil
}

// OfUse is the most serious finding that bears on how a pack is used and still holds,
// other than a lost cell: a contact, what it holds, what it loses in store. It takes
// no trend; nil where there is none.
func (f *Fleet) OfUse(code string) *Finding {
	h := f.packs[code]
	if h == nil {
		return nil
	}
	for _, found := range h.contact(f.sigma) {
		if !found.Past {
			return &found
		}
	}
	for _, found := range []*Finding{h.capacityFade(), h.selfDischarge()} {
		if found != nil && !found.Past {
			return found
		}
	}
	return nil
}

// Examine surveys a pack with its sisters and examines it. Where several packs are
// examined, Survey them once.
func Examine(p Pack, sisters []Pack, limitOhm float64, r Rules, analysis *trend.Analysis) Report {
	return Survey(append([]Pack{p}, sisters...), r).Examine(p.Code, limitOhm, analysis)
}

// bySeriousness: what still holds first, then by cause, then the surest.
func bySeriousness(a, b *Finding) int {
	return cmp.Or(boolOrder(a.Past, b.Past), cmp.Compare(causeOrder(a.Cause), causeOrder(b.Cause)),
		cmp.Compare(sureness(a.Confidence), sureness(b.Confidence)), cmp.Compare(b.SinceMS, a.SinceMS))
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

func causeOrder(c Cause) int {
	return slices.Index([]Cause{LostCell, ContactOrLead, AgeingCells, CapacityFade, SelfDischarge, SetUp, NotReady}, c)
}

func sureness(c Confidence) int {
	return slices.Index([]Confidence{Plain, Likely, Possible}, c)
}

// Usual settings, where a team has none. 80 and 60 % of the rating: see package
// logged. 30 % in 30 days: makers and handbooks say 10 to 35 % for ordinary cells and
// far more for bad ones. 1.1: measured at half an hour's current (package charging).
// An hour of rest: common practice, no source.
func (r Rules) filled() Rules {
	set := func(v *float64, usual float64) {
		if !(*v > 0) {
			*v = usual
		}
	}
	set(&r.RestMin, 60)
	set(&r.CapacityGoodPct, 80)
	set(&r.CapacityEndPct, 60)
	set(&r.SelfDischargePctMonth, 30)
	set(&r.ChargeFactor, 1.1)
	return r
}
