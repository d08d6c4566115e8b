package fleet

import (
	"cmp"
	"math"

	"packwright/internal/journal"
	"packwright/internal/logged"
	"packwright/internal/place"
	"packwright/internal/problem"
)

// runDefaults are what a run's own options may leave open.
type runDefaults struct {
	cells                    int
	ratedAh, goodPct, endPct float64
}

func runDefaultsOf(p Profile, t Team) runDefaults {
	return runDefaults{cells: p.Cells, ratedAh: p.CapacityAh, goodPct: t.CapacityGoodPct, endPct: t.CapacityEndPct}
}

// ran is a run's result, kept for as long as what it depends on stays the same.
type ran struct {
	with   runDefaults
	result *logged.Result
	err    error
}

// run is one logged run as a view.
func (it *item) run(b *journal.Run, stamp Stamp, p Profile, t Team) Run {
	v := Run{Stamp: stamp, Purpose: b.Purpose, StartedMS: stamp.AtMS, File: b.File, Note: b.Note, Rows: b.Rows, Options: b.Options}
	if started, ok := place.TimeMS(b.StartedAt); ok {
		v.StartedMS = started
	}
	with := runDefaultsOf(p, t)
	if it.ran == nil || it.ran.with != with {
		it.ran = &ran{with: with}
		it.ran.result, it.ran.err = runResult(b, with)
	}
	v.Result = it.ran.result
	if it.ran.err != nil {
		v.Problem = it.ran.err.Error()
	}
	return v
}

// RunResult works out a log kept by hand; what its options leave open is the
// pack's and the team's. A run from a file has its result with it.
func (f *Fleet) RunResult(code string, b *journal.Run) (*logged.Result, error) {
	f.fold()
	profile := Profile{}
	if p := f.packs[code]; p != nil {
		profile = f.profile(p)
	}
	return runResult(b, runDefaultsOf(profile, f.Team()))
}

func runResult(b *journal.Run, with runDefaults) (*logged.Result, error) {
	if b.Result != nil {
		r := *b.Result
		if r.Capacity != nil { // as this program counts, not the one that wrote it
			c := *r.Capacity
			c.NotCounted = logged.WhyNotCounted(&c, b.Options.FromFull)
			r.Capacity = &c
		}
		return &r, nil
	}
	o := b.Options
	o.Cells, o.RatedAh = cmp.Or(o.Cells, with.cells), cmp.Or(o.RatedAh, with.ratedAh)
	if o.GoodPct == 0 && o.EndPct == 0 {
		o.GoodPct, o.EndPct = with.goodPct, with.endPct
	}
	run, err := logged.NewRun(o)
	if err != nil {
		return nil, err
	}
	if len(b.Rows) == 0 {
		return nil, problem.Invalidf("rows", "enter the readings", "the run has no readings")
	}
	none := math.NaN() // the load tells the current
	for i, row := range b.Rows {
		run.Add(logged.Row{Line: i + 1, TimeS: row.TimeS, Volts: row.Volts, Amps: none})
	}
	r, err := run.Finish()
	if err != nil {
		return nil, err
	}
	return &r, nil
}
