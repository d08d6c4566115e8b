package season

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"packwright/internal/cells"
	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
	"packwright/internal/measure"
	"packwright/internal/trend"
)

// read makes of a pack's record what trend and diagnose take.
func (p *pack) read() {
	r := &p.record
	p.history = diagnose.Pack{
		Code: r.Profile.Code, Name: r.Profile.Name, Cells: cmp.Or(r.Profile.Cells, cells.Usual), RatedAh: r.Profile.CapacityAh, Retired: r.Profile.Retired,
		Tests: make([]diagnose.Test, 0, len(r.Tests)),
	}
	for i := range r.Tests {
		t := &r.Tests[i]
		p.history.Tests = append(p.history.Tests, testOf(t))
		if !t.Voided && !t.ClockOff && t.Result != nil && t.Method != loadtest.DirectAC {
			p.provedMS = max(p.provedMS, t.AtMS)
		}
		if t.Voided || t.Result == nil || t.Result.BoundOnly || t.Method == loadtest.DirectAC {
			continue
		}
		p.latest = t
		if p.first == nil {
			p.first = t
		}
	}
	for _, repair := range slices.Backward(r.Repairs) {
		if repair.Voided || repair.ClockOff || !repair.Baseline {
			continue
		}
		p.sinceMS = max(p.sinceMS, repair.AtMS)
		p.history.Repairs = append(p.history.Repairs, diagnose.Repair{AtMS: repair.AtMS, Part: repair.Part})
	}
	for _, w := range slices.Backward(r.Wiggles) {
		if !w.Voided && !w.ClockOff {
			p.history.Wiggles = append(p.history.Wiggles, diagnose.Wiggle{Entry: w.Entry, AtMS: w.AtMS, Wiggle: w.Wiggle})
		}
	}
	for _, c := range slices.Backward(r.Charges) {
		if !c.Voided && c.EndedMS != nil {
			p.history.Charges = append(p.history.Charges, diagnose.Charge{
				StartMS: c.StartedMS, AtMS: *c.EndedMS, Full: c.Ended == journal.EndFull, Stored: c.Purpose == journal.TopUp, PutInAh: c.PutInAh,
			})
		}
	}
	for i := len(r.Runs) - 1; i >= 0; i-- {
		p.readCapacity(&r.Runs[i])
	}
}

// readCapacity takes in a run that says something of the capacity; they come by
// time.
func (p *pack) readCapacity(run *fleet.Run) {
	if run.Voided || run.ClockOff || run.Purpose != journal.CapacityRun || run.Result == nil || run.Result.Capacity == nil || run.Result.Capacity.SharePct == nil || run.Result.Capacity.Verdict == logged.NotPack {
		return
	}
	c := run.Result.Capacity
	plus := 0.0
	if c.SharePct.ExpandedUncertainty != nil {
		plus = *c.SharePct.ExpandedUncertainty
	}
	full := run.Options.FromFull != nil && *run.Options.FromFull
	p.history.Capacities = append(p.history.Capacities, diagnose.Capacity{
		Entry: run.Entry, AtMS: run.StartedMS, SharePct: c.SharePct.Value, PlusPct: plus, Reached: c.Reached && full,
	})
	if c.NotCounted != "" {
		return // broken off, or begun with less: it says what came out, not what the pack holds
	}
	p.capacity = &CapacityState{Entry: run.Entry, AtMS: run.StartedMS, SharePct: c.SharePct.Value, PlusPct: plus, Verdict: c.Verdict}
}

// testOf is a test as diagnosis takes it. What cannot be used is excluded with
// the reason.
func testOf(t *fleet.Test) diagnose.Test {
	d := diagnose.Test{Rig: rigOf(t), Repeats: 1}
	switch {
	case t.Test != nil:
		d.Test, d.RestedMin = trend.FromLoadTest(t.Entry, t.AtMS, t.Test, t.Result), t.Test.RestedMin
	case t.Direct != nil:
		d.Test, d.RestedMin = trend.FromDirect(t.Entry, t.AtMS, t.Direct, t.Result), t.Direct.RestedMin
	default:
		d.ID, d.AtMS = t.Entry, t.AtMS
	}
	switch {
	case t.Voided:
		d.Excluded = "it was voided"
	case t.Problem != "":
		d.Excluded = t.Problem
	case t.ClockOff:
		d.Excluded = "the clock of the phone was wrong, so its time is not known"
	}
	if d.Excluded == "" {
		if err := d.Test.Check(); err != nil {
			d.Excluded = err.Error()
		}
	}
	if r := t.Result; r != nil {
		d.OpenV, d.Repeats = r.OpenV, r.Repeats
		var explained float64
		for i := range r.Budget {
			switch l := &r.Budget[i]; {
			case l.Source == loadtest.Scatter: // of the mean
				d.ScatterOhm = l.StdUnc * math.Sqrt(float64(r.Repeats))
			case strings.HasPrefix(l.Source, "display of "):
				explained += measure.Square(l.ContributionOhm)
			}
		}
		if r.Repeats > 1 {
			d.ExplainedOhm = math.Sqrt(explained)
		}
	}
	return d
}

// rigOf tells set-ups apart: tests made with the same things have the same text.
// It is made 20,000 times for a board, so it is not for people.
func rigOf(t *fleet.Test) string {
	var text []byte
	add := func(numbers ...float64) {
		for _, v := range numbers {
			text = append(strconv.AppendFloat(text, v, 'g', -1, 64), ' ')
		}
	}
	switch {
	case t.Test != nil:
		b := t.Test
		text = append(text, b.Method...)
		add(b.LoadOhm, b.Load1Ohm, b.Load2Ohm, b.LeadOhm, b.Meter.ReadingPct, b.Meter.Counts, b.Meter.ResolutionV)
	case t.Direct != nil:
		b := t.Direct
		text = append(text, b.Method...)
		add(b.AccuracyPct, b.Counts, b.ResolutionOhm)
		if b.FrequencyHz != nil {
			add(*b.FrequencyHz)
		}
	}
	return string(text)
}
