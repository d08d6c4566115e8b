package diagnose

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/order"
	"packwright/internal/trend"
)

const dayMS = 86_400_000

// history is a pack with what was made of its tests.
type history struct {
	Pack
	order   int // in the fleet
	rules   *Rules
	unready [][]string // by test: why it was not fit to compare
	open    []reading  // open-circuit voltages of full packs, by time
	usualV  []float64  // volt, open-circuit voltages that were usual
	lost    int        // index in open of the first of the run without a cell; len(open) where there is none
	cuts    []int64    // unix ms, by time: what lies on two sides of one is not compared
	series  []series   // the most tests first
}

// series is tests of one pack that compare.
type series struct {
	at20C  bool // brought to 20 °C
	points []point
}

// point is a test day.
type point struct {
	atMS  int64
	ohm   float64 // at 20 °C where the series is
	raw   float64 // ohm, as measured
	own   float64 // ohm, standard uncertainty that is new at each test
	tempC float64 // NaN where unknown
	tests []int   // index in Pack.Tests
	ids   []string
	rig   int // number of Test.Rig in the fleet
}

func newHistory(p *Pack, r *Rules) *history {
	h := &history{Pack: *p, rules: r}
	h.Tests = slices.Clone(p.Tests)
	order.Stable(h.Tests, func(a, b *Test) int { return cmp.Or(cmp.Compare(a.AtMS, b.AtMS), cmp.Compare(a.ID, b.ID)) })
	if extra := len(h.Tests) - trend.MaxTests; extra > 0 {
		h.Tests = h.Tests[extra:] // the oldest say least
	}
	h.Charges = slices.Clone(p.Charges)
	order.Stable(h.Charges, func(a, b *Charge) int { return cmp.Compare(a.AtMS, b.AtMS) })
	for i := range h.Tests {
		h.Tests[i].clean()
	}
	h.unready = make([][]string, len(h.Tests))
	usualC := h.usualC()
	for i := range h.Tests {
		h.unready[i] = unreadyByRecord(&h.Tests[i], usualC, r)
	}
	h.Repairs = slices.DeleteFunc(slices.Clone(p.Repairs), func(r Repair) bool { return r.Part == journal.RepairOther || r.AtMS < 0 || r.AtMS > lastMS })
	for _, repair := range h.Repairs {
		h.cuts = append(h.cuts, repair.AtMS)
	}
	slices.Sort(h.cuts)
	h.cuts = slices.Compact(h.cuts)
	return h
}

const lastMS = 253402300799999 // the last millisecond of the year 9999

// clean sets aside what cannot be, so that no rule has to think of it.
func (t *Test) clean() {
	known := func(p *float64, low, high float64) *float64 {
		if p == nil || !(*p >= low && *p <= high) {
			return nil
		}
		return p
	}
	t.OpenV = known(t.OpenV, 0, 1000)
	t.RestedMin = known(t.RestedMin, 0, 1e7)
	t.ReadAfterS = known(t.ReadAfterS, 0, 86400)
	t.TemperatureC = known(t.TemperatureC, -60, 120)
	if !(t.ScatterOhm >= 0 && t.ScatterOhm <= 1000 && t.ExplainedOhm >= 0 && t.ExplainedOhm <= 1000) {
		t.ScatterOhm, t.ExplainedOhm, t.Repeats = 0, 0, 1
	}
	if t.Excluded == "" {
		if err := t.Check(); err != nil {
			t.Excluded = err.Error()
		}
	}
}

const (
	mostSeries   = 4 // set-ups of one pack that are looked at
	fewestPoints = 2 // of a series
	noted        = 0.75
)

// gather makes the series: the tests of the commonest set-up, then those of the
// next among the rest. Tests that were not ready, and those without a cell, are
// left out. Values are at 20 °C where most tests have a temperature.
func (h *history) gather(rigs map[string]int) {
	index := make(map[string]int, len(h.Tests))
	left := make([]*trend.Test, 0, len(h.Tests))
	withTemp := 0
	lostMS := h.lostMS()
	for i := range h.Tests {
		t := &h.Tests[i]
		index[t.ID] = i
		if t.Excluded == "" && len(h.unready[i]) == 0 && t.Charge == loadtest.ChargeFull && t.AtMS < lostMS {
			left = append(left, &t.Test)
			if t.TemperatureC != nil {
				withTemp++
			}
		}
	}
	o := trend.Options{To20C: float64(withTemp) >= noted*float64(len(left))}
	for range mostSeries {
		if len(left) < fewestPoints {
			return
		}
		chosen, err := trend.Choose(left, o)
		if err != nil || len(chosen.Occasions) == 0 {
			return
		}
		s := series{at20C: o.To20C, points: make([]point, 0, len(chosen.Occasions))}
		for _, oc := range chosen.Occasions {
			pt := point{atMS: oc.AtMS, ohm: oc.Ohm, raw: oc.RawOhm, own: oc.OwnStdUncOhm, ids: oc.Tests}
			for _, id := range oc.Tests {
				t := &h.Tests[index[id]]
				pt.tests = append(pt.tests, index[id])
				pt.rig = number(rigs, t.Rig)
				if t.TemperatureC == nil {
					pt.tempC = math.NaN()
				} else {
					pt.tempC += *t.TemperatureC / float64(len(oc.Tests))
				}
			}
			s.points = append(s.points, pt)
		}
		h.series = append(h.series, s)
		if len(chosen.Aside) < fewestPoints {
			return
		}
		aside := make(map[string]bool, len(chosen.Aside))
		for _, a := range chosen.Aside {
			aside[a.Test] = true
		}
		left = slices.DeleteFunc(left, func(t *trend.Test) bool { return !aside[t.ID] })
	}
}

// number gives equal texts equal numbers.
func number(numbers map[string]int, text string) int {
	n, ok := numbers[text]
	if !ok {
		n = len(numbers)
		numbers[text] = n
	}
	return n
}

// segments are the stretches of a series that compare: between repairs and
// changes of the set-up.
func (h *history) segments(s *series) [][]point {
	var list [][]point
	rest := s.points
	for _, cut := range h.cuts {
		n, _ := slices.BinarySearchFunc(rest, cut, func(p point, ms int64) int { return cmp.Compare(p.atMS, ms) })
		list = append(list, rest[:n])
		rest = rest[n:]
	}
	return append(list, rest)
}

func (h *history) latestMS() int64 {
	for _, t := range slices.Backward(h.Tests) {
		if t.Excluded == "" {
			return t.AtMS
		}
	}
	return 0
}

func ohms(points []point) []float64 {
	list := make([]float64, len(points))
	for i := range points {
		list[i] = points[i].ohm
	}
	return list
}

func idsOf(points []point) []string {
	list := []string{}
	for i := range points {
		list = append(list, points[i].ids...)
	}
	return list
}
