// Package charging looks at the charges of a pack: cycles, what went in against
// what was expected, what is left, and what is due; and writes what is due as a
// calendar file.
//
// Use this first: Summarise for one pack; then Items of all packs, and Calendar.
//
// Published sources. Where a document is a maker's, its kind stands for its name.
//
//   - simulator: the charge file named in package cells. Five charges at 3 A of a
//     6.5 Ah pack, ended by a slope of voltage, gave back 90.3 to 91.0 % of what went
//     in: a factor of 1.105. Other files there assume 97.5 to 99 %.
//   - makers' data sheets, by one of 2005 and some without a year: 0.1 It for 14 to
//     16 h, that is 1.4 to 1.6 of the rating, until surely full; a fast charge is
//     ended at 105 to 120 % of the rating at the latest, one at 0.1 It at 150 to 160 %.
//   - sellers and handbooks: ordinary cells lose 20 to 30 % in 30 days, or 10 to
//     35 %; an encyclopedia has 14 to 71 %. From memory: 5 to 10 % on the first day,
//     then 0.5 to 1 % a day, twice as fast for every 10 °C more.
//   - two makers of tools and lights: recharge stored packs every 6 months. Common
//     practice is 3 to 6 months, and 2 or 3 slow cycles before the season.
package charging

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/journal"
	"packwright/internal/order"
)

const dayMS = 86_400_000.0

// Summarise looks at the charges of one pack, given in any order. ratedAh is its
// rated capacity, 0 unknown. lastTestMS and lastCapacityMS are its latest usable
// load test and capacity check, nil where there is none.
func Summarise(charges []Charge, ratedAh float64, lastTestMS, lastCapacityMS *int64, r Rules, nowMS int64) Status {
	charges = slices.Clone(charges)
	order.Stable(charges, func(a, b *Charge) int {
		return cmp.Or(cmp.Compare(b.StartedMS, a.StartedMS), cmp.Compare(b.Entry, a.Entry))
	})
	s := Status{Checks: []Check{}, Due: []Due{}}
	for i := range charges {
		c := &charges[i]
		if c.isCycle() {
			s.Cycles++
		}
		if known(c.PutInAh) && ratedAh > 0 {
			s.NotedAh++
			s.CyclesByAh += *c.PutInAh / ratedAh
		}
		s.Checks = append(s.Checks, c.check(ratedAh, r))
		if end := c.endMS(); s.LastChargeMS == nil || end > *s.LastChargeMS {
			s.LastChargeMS = &end
		}
	}
	if s.LastChargeMS != nil {
		idle := max(0, float64(nowMS-*s.LastChargeMS)/dayMS)
		s.IdleDays = &idle
	}
	s.left(charges, r)
	if s.Nothing = r.Nothing; s.Nothing == "" {
		s.due(charges, lastTestMS, lastCapacityMS, r, nowMS)
	}
	return s
}

// isCycle: whatever is not a top-up of a stored pack follows on a use.
func (c *Charge) isCycle() bool { return c.Purpose != string(journal.TopUp) }

// endMS is when the charge ended, or began where the end was not noted.
func (c *Charge) endMS() int64 {
	if c.EndedMS != nil && *c.EndedMS >= c.StartedMS {
		return *c.EndedMS
	}
	return c.StartedMS
}

// known: a number that an amount or current can be.
func known(v *float64) bool { return v != nil && *v >= 0 && !math.IsInf(*v, 1) }
