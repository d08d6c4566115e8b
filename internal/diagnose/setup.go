package diagnose

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"packwright/internal/order"
	"packwright/internal/trend"
)

// Bounds of the rule for set-up days (own rule).
const (
	fewestPacks   = 3
	surePacks     = 5
	leastShift    = trend.NoisePct / 100 // share of the resistance
	leastChange   = 0.08                 // of one that stays: wear and seasons make small ones
	shiftSigmas   = 3.0                  // standard errors of the median
	sameWay       = 0.75                 // share of the packs that must shift that way
	sidePoints    = 3                    // tests before and after that a pack is compared with
	mostGapDays   = 45                   // a change after a longer pause may be the pause's
	medianPenalty = 1.2533
)

// SetUpDays lists the test days on which the packs shifted together, by time.
// Where packs are examined as well, Survey them once and ask Fleet.Days.
func SetUpDays(packs []Pack, r Rules) []Day { return Survey(packs, r).Days() }

// Days lists the test days on which the packs shifted together, by time.
func (f *Fleet) Days() []Day { return f.days }

// Spoilt is a test that says nothing about its pack.
type Spoilt struct {
	Test   string // entry id
	Reason string // in words
}

// SpoiltOf lists the tests of a pack that no trend should rest on, those of days on
// which the set-up was off and those for which the pack was not ready, and says from
// when on, in unix ms, tests compare again after the set-up changed; 0 where it did not.
func (f *Fleet) SpoiltOf(code string) (spoilt []Spoilt, sinceMS int64) {
	for i := range f.days {
		switch d := &f.days[i]; {
		case d.tests[code] == nil:
		case d.Stays:
			sinceMS = max(sinceMS, d.AtMS)
		default:
			for _, id := range d.tests[code] {
				spoilt = append(spoilt, Spoilt{id, "the set-up was off that day"})
			}
		}
	}
	if h := f.packs[code]; h != nil {
		for i, why := range h.unready {
			if len(why) > 0 {
				spoilt = append(spoilt, Spoilt{h.Tests[i].ID, strings.Join(why, "; ")})
			}
		}
	}
	return spoilt, sinceMS
}

// shifted is one pack on one test day.
type shifted struct {
	h            *history
	p            *point
	before       float64 // share above the tests before; NaN where there are none
	after        float64 // share above the tests after
	both         float64 // share above those before and after
	onward       float64 // share of this and the next tests above those before; NaN where there are too few
	at20C        bool
	sinceEarlier float64 // day
}

// findSetUpDays compares, rig by rig and day by day, each pack with its own tests
// before and after; the median of the packs is the day's shift (in the manner of a
// two-way table of medians: Tukey 1977). The tests of a day that is off are left out
// of the series, and the rest is looked at once more, because one such day hides
// another. Last come changes that stay: they cut the series.
func (f *Fleet) findSetUpDays() {
	days := f.rigDays()
	for range mostRounds {
		n := len(f.days)
		for _, day := range days {
			f.keep(singleDay(day), day)
		}
		if len(f.days) == n {
			break
		}
		for i := n; i < len(f.days); i++ {
			f.days[i].leaveOut(f)
		}
		days = f.rigDays()
	}
	n := len(f.days)
	for _, day := range days {
		f.keep(lastingChange(day), day)
	}
	f.days = slices.Concat(f.days[:n], strongest(f.days[n:]))
	for i := n; i < len(f.days); i++ {
		f.days[i].cut(f)
	}
	order.Stable(f.days, func(a, b *Day) int { return cmp.Compare(a.AtMS, b.AtMS) })
}

const mostRounds = 5

// rigDays puts all points in groups of a rig and a day, by time.
func (f *Fleet) rigDays() [][]*shifted {
	n := 0
	for _, h := range f.ordered {
		for i := range h.series {
			n += len(h.series[i].points)
		}
	}
	all := make([]*shifted, 0, n)
	for _, h := range f.ordered {
		for i := range h.series {
			for _, segment := range h.segments(&h.series[i]) {
				list := shiftsOf(h, &h.series[i], segment)
				for k := range list {
					all = append(all, &list[k])
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b *shifted) int {
		switch {
		case a.p.rig != b.p.rig:
			return a.p.rig - b.p.rig
		case a.p.atMS != b.p.atMS:
			return cmp.Compare(a.p.atMS, b.p.atMS)
		}
		return a.h.order - b.h.order
	})
	var days [][]*shifted
	for from, to := 0, 0; from < len(all); from = to {
		for to = from; to < len(all) && all[to].p.rig == all[from].p.rig && sameDay(all[from].p.atMS, all[to].p.atMS); to++ {
		}
		days = append(days, all[from:to])
	}
	order.Stable(days, func(a, b *[]*shifted) int { return cmp.Compare((*a)[0].p.atMS, (*b)[0].p.atMS) })
	return days
}

// shiftsOf compares every point of a segment with its neighbours, both as used and
// as measured.
func shiftsOf(h *history, s *series, points []point) []shifted {
	y, raw := ohms(points), make([]float64, len(points))
	for i := range points {
		raw[i] = points[i].raw
	}
	list := make([]shifted, len(points))
	for i := range points {
		used, plain := sidesOf(y, i), sidesOf(raw, i)
		list[i] = shifted{
			h: h, p: &points[i], at20C: s.at20C, sinceEarlier: math.NaN(),
			before: smaller(used.before, plain.before), after: smaller(used.after, plain.after),
			both: smaller(used.both, plain.both), onward: smaller(used.onward, plain.onward),
		}
		if i > 0 {
			list[i].sinceEarlier = float64(points[i].atMS-points[i-1].atMS) / dayMS
		}
	}
	return list
}

// sides is a value against its neighbours, as shares; NaN where there are none.
type sides struct{ before, after, both, onward float64 }

// sidesOf compares value i with those before it, with those after it, and with both;
// and, together with those after it, with those before it.
func sidesOf(y []float64, i int) sides {
	left, right := y[max(0, i-sidePoints):i], y[i+1:min(len(y), i+1+sidePoints)]
	var kept [2 * sidePoints]float64 // a phone asks this for every test of the fleet
	of := func(lists ...[]float64) float64 {
		some := kept[:0]
		for _, list := range lists {
			some = append(some, list...)
		}
		return median(some)
	}
	before := of(left)
	s := sides{before: y[i]/before - 1, after: y[i]/of(right) - 1, both: y[i]/of(left, right) - 1, onward: math.NaN()}
	if len(left) > 1 && len(right) > 0 {
		s.onward = of(y[i:min(len(y), i+sidePoints)])/before - 1
	}
	return s
}

// smaller is the smaller of a shift with and without the correction for
// temperature, 0 where they differ in sign: a thermometer that is wrong makes the one,
// a room that is cold the other.
func smaller(a, b float64) float64 {
	switch {
	case math.IsNaN(a) || math.IsNaN(b):
		return math.NaN()
	case a*b <= 0:
		return 0
	case math.Abs(a) < math.Abs(b):
		return a
	}
	return b
}

// shift is how the packs of a day moved together.
type shift struct {
	share float64 // median
	packs int
	stays bool
	known bool // there are tests on either side
}

// singleDay says whether the packs of a day are off together against the tests on
// either side, or, on the latest day, against those before.
func singleDay(day []*shifted) *shift {
	share, n, off := together(day, func(s *shifted) float64 { return s.both })
	before, earlier := medianOf(day, func(s *shifted) float64 { return s.before })
	after, later := medianOf(day, func(s *shifted) float64 { return s.after })
	known := later >= fewestPacks
	if !off || earlier < fewestPacks || known && !(before*after > 0 && min(math.Abs(before), math.Abs(after)) >= leastShift/2) {
		return nil // with nothing before it, a day makes the level
	}
	return &shift{share: share, packs: n, known: known}
}

// lastingChange says whether the packs of a day and the next ones are off together
// against those before.
func lastingChange(day []*shifted) *shift {
	share, n, off := together(day, func(s *shifted) float64 { return s.onward })
	gap, _ := medianOf(day, func(s *shifted) float64 { return s.sinceEarlier })
	if !off || math.Abs(share) < leastChange || !(gap <= mostGapDays) {
		return nil
	}
	return &shift{share: share, packs: n, stays: true, known: true}
}

// keep adds a day on which the packs shifted.
func (f *Fleet) keep(s *shift, day []*shifted) {
	if s == nil {
		return
	}
	d := Day{AtMS: math.MaxInt64, ShiftPct: s.share * 100, Stays: s.stays, tests: map[string][]string{}}
	noted := true
	for i := range day {
		code := day[i].h.Code
		if d.tests[code] == nil {
			d.Packs = append(d.Packs, code)
		}
		d.tests[code] = append(d.tests[code], day[i].p.ids...)
		d.AtMS = min(d.AtMS, day[i].p.atMS)
		d.Finding.Tests = append(d.Finding.Tests, day[i].p.ids...)
		noted = noted && day[i].at20C
	}
	if d.word(s, f.reference(day), noted) {
		f.days = append(f.days, d)
	}
}

// together is the median of a share over the packs, of how many, and whether
// they moved together, beyond their own scatter and beyond temperature.
func together(day []*shifted, of func(*shifted) float64) (shift float64, n int, ok bool) {
	shift, n = medianOf(day, of)
	if n < fewestPacks {
		return shift, n, false
	}
	list := make([]float64, 0, len(day))
	same := 0
	for i := range day {
		v := of(day[i])
		if math.IsNaN(v) {
			continue
		}
		list = append(list, v)
		if v*shift > 0 && math.Abs(v) >= math.Abs(shift)/2 {
			same++
		}
	}
	limit := max(leastShift, shiftSigmas*medianPenalty*scatter(list)/math.Sqrt(float64(n)))
	return shift, n, math.Abs(shift) >= limit && float64(same) >= sameWay*float64(n)
}

func medianOf(day []*shifted, of func(*shifted) float64) (float64, int) {
	list := make([]float64, 0, len(day))
	for i := range day {
		if v := of(day[i]); !math.IsNaN(v) {
			list = append(list, v)
		}
	}
	return median(list), len(list)
}

// strongest keeps of neighbouring changes the largest: the days around a change
// see it, too.
func strongest(changes []Day) []Day {
	var kept []Day
	for _, d := range changes {
		if n := len(kept); n > 0 && d.AtMS-kept[n-1].AtMS < mostGapDays*dayMS {
			if math.Abs(d.ShiftPct) > math.Abs(kept[n-1].ShiftPct) {
				kept[n-1] = d
			}
			continue
		}
		kept = append(kept, d)
	}
	return kept
}
