package loadtest

import (
	"math"
	"slices"
	"strings"
	"testing"

	"packwright/internal/edge"
)

// refusedTest says whether Check refuses the test of the examples with one
// number set.
func refusedTest(set func(t *Test, v float64)) func(v float64) bool {
	return func(v float64) bool {
		return with(func(t *Test) { set(t, v) }).Check() != nil
	}
}

// TestEdgesOfRecords: what a record may hold.
func TestEdgesOfRecords(t *testing.T) {
	var limits []edge.Limit
	within := func(name string, low, high float64, refused func(v float64) bool) {
		limits = append(limits, edge.Range(name, low, high, refused)...)
	}
	positive := func(name string, high float64, refused func(v float64) bool) {
		limits = append(limits, edge.Limit{Name: name + ", above zero", At: 0, Itself: true, Refused: refused},
			edge.Limit{Name: name + ", highest", At: high, Above: true, Refused: refused})
	}
	within("open_v", -1e6, 1e6, refusedTest(func(t *Test, v float64) { t.OpenV = []float64{v} }))
	within("loaded_v", -1e6, 1e6, refusedTest(func(t *Test, v float64) { t.LoadedV = []float64{v} }))
	within("lead_ohm", 0, 1e6, refusedTest(func(t *Test, v float64) { t.LeadOhm = v }))
	within("load_tolerance_pct", 0, 100, refusedTest(func(t *Test, v float64) { t.LoadTolerancePct = &v }))
	within("load_uncertainty_ohm", 0, 1e6, refusedTest(func(t *Test, v float64) { t.LoadTolerancePct, t.LoadUncertaintyOhm = nil, &v }))
	within("load_tempco_ppm_k", -1e5, 1e5, refusedTest(func(t *Test, v float64) { t.LoadTempcoPpmK = &v }))
	within("load_rise_k", -100, 1000, refusedTest(func(t *Test, v float64) { t.LoadRiseK = &v }))
	within("lead_uncertainty_ohm", 0, 1e6, refusedTest(func(t *Test, v float64) { t.LeadUncertaintyOhm = &v }))
	within("current_pct", 0, 100, refusedTest(func(t *Test, v float64) { t.CurrentPct = &v }))
	within("current_counts", 0, 1e6, refusedTest(func(t *Test, v float64) { t.CurrentCounts, t.CurrentResolutionA = &v, ptr(0.01) }))
	within("current_resolution_a", 0, 1e6, refusedTest(func(t *Test, v float64) { t.CurrentResolutionA = &v }))
	within("read_after_s", 0, 1e6, refusedTest(func(t *Test, v float64) { t.ReadAfterS = &v }))
	within("temperature_c", -273.15, 1000, refusedTest(func(t *Test, v float64) { t.TemperatureC = &v }))
	within("rested_min", 0, 1e7, refusedTest(func(t *Test, v float64) { t.RestedMin = &v }))
	within("meter.reading_pct", 0, 100, refusedTest(func(t *Test, v float64) { t.Meter.ReadingPct = v }))
	within("meter.counts", 0, 1e6, refusedTest(func(t *Test, v float64) { t.Meter.Counts = v }))
	positive("meter.resolution_v", 1e6, refusedTest(func(t *Test, v float64) { t.Meter.ResolutionV = v }))
	positive("load_ohm", 1e6, refusedTest(func(t *Test, v float64) { t.LoadOhm = v }))

	direct := func(set func(d *Direct, v float64)) func(v float64) bool {
		return func(v float64) bool {
			d := Direct{Method: DirectAC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001}
			set(&d, v)
			return d.Check() != nil
		}
	}
	within("resistance_ohm", -1e6, 1e6, direct(func(d *Direct, v float64) { d.ResistanceOhm = []float64{v} }))
	within("accuracy_pct", 0, 100, direct(func(d *Direct, v float64) { d.AccuracyPct = v }))
	within("counts", 0, 1e6, direct(func(d *Direct, v float64) { d.Counts = v }))
	within("frequency_hz", 0, 1e9, direct(func(d *Direct, v float64) { d.FrequencyHz = &v }))
	within("open_v, direct", -1e6, 1e6, direct(func(d *Direct, v float64) { d.OpenV = &v }))
	within("temperature_c, direct", -273.15, 1000, direct(func(d *Direct, v float64) { d.TemperatureC = &v }))
	within("rested_min, direct", 0, 1e7, direct(func(d *Direct, v float64) { d.RestedMin = &v }))
	positive("resolution_ohm", 1e6, direct(func(d *Direct, v float64) { d.ResolutionOhm = v }))

	setup := func(set func(s *Setup, v float64)) func(v float64) bool {
		return func(v float64) bool { s := rig(); set(&s, v); return s.Check() != nil }
	}
	positive("setup open_v", 100, setup(func(s *Setup, v float64) { s.OpenV = v }))
	positive("limit_ohm", 100, setup(func(s *Setup, v float64) { s.LimitOhm = v }))
	within("fuse_a", 0, 1000, setup(func(s *Setup, v float64) { s.FuseA = v }))
	within("setup read_after_s", 0, 3600, setup(func(s *Setup, v float64) { s.ReadAfterS = v }))
	positive("load.ohm", 1e6, setup(func(s *Setup, v float64) { s.Load.Ohm = v }))
	within("load.tolerance_pct", 0, 100, setup(func(s *Setup, v float64) { s.Load.TolerancePct = &v }))
	within("load.uncertainty_ohm", 0, 1e6, setup(func(s *Setup, v float64) { s.Load.TolerancePct, s.Load.UncertaintyOhm = nil, &v }))
	within("load.tempco_ppm_k", -1e5, 1e5, setup(func(s *Setup, v float64) { s.Load.TempcoPpmK = &v }))
	within("load.lead_ohm", 0, 1e6, setup(func(s *Setup, v float64) { s.Load.LeadOhm = v }))
	within("load.rating_w", 0, 1e6, setup(func(s *Setup, v float64) { s.Load.RatingW = v }))
	edge.Check(t, limits)
}

// TestEdgesOfCounts: limits on whole numbers, at the value and one beyond.
func TestEdgesOfCounts(t *testing.T) {
	list := func(n int) error { return checkList("open_v", slices.Repeat([]float64{12.8}, n)) }
	repeats := func(n int) error { s := rig(); s.Repeats = n; return s.Check() }
	inSeries := func(n int) error { _, err := cellsOf(Options{Cells: n}); return err }
	for _, c := range []struct {
		name      string
		low, high int
		check     func(n int) error
	}{{"readings", 1, 1000, list}, {"planned readings", 1, 1000, repeats}, {"cells", 0, 40, inSeries}} {
		if err := c.check(c.low); err != nil {
			t.Errorf("%d %s: %v", c.low, c.name, err)
		}
		if err := c.check(c.high); err != nil {
			t.Errorf("%d %s: %v", c.high, c.name, err)
		}
		if c.low > 0 && c.check(c.low-1) == nil {
			t.Errorf("%d %s were accepted", c.low-1, c.name)
		}
		if c.check(c.high+1) == nil {
			t.Errorf("%d %s were accepted", c.high+1, c.name)
		}
	}
}

// TestEdgesOfReadings: readings that cannot be true.
func TestEdgesOfReadings(t *testing.T) {
	fails := func(test Test, o Options) bool { _, err := Compute(test, o); return err != nil }
	open := func(n int) func(v float64) bool {
		return func(v float64) bool {
			return fails(with(func(t *Test) { t.OpenV, t.LoadedV = []float64{v}, []float64{v - 0.2} }), Options{Cells: n})
		}
	}
	loaded := func(v float64) bool { return fails(with(func(t *Test) { t.LoadedV = []float64{v} }), Options{}) }
	current := func(v float64) bool {
		return fails(Test{Method: MeasuredCurrent, OpenV: []float64{12.84}, LoadedV: []float64{8}, CurrentA: []float64{v}, Meter: dmm}, Options{})
	}
	direct := func(v float64) bool {
		_, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{v, 0.1}, ResolutionOhm: 0.0001}, Options{})
		return err != nil
	}
	directOpen := func(v float64) bool {
		_, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001, OpenV: &v}, Options{})
		return err != nil
	}
	wrongWay := func(v float64) bool {
		return fails(with(func(t *Test) {
			t.Meter.ResolutionV = 0.125
			t.OpenV, t.LoadedV = []float64{12.5, 12.5}, []float64{v, 12}
		}), Options{})
	}
	level := func(sag float64) bool {
		test := with(func(t *Test) { t.LoadedV = t.OpenV })
		return refuse(&test, &model{sag: sag, resistance: 0.1}, 10) != nil
	}
	meant := func(v float64) bool { _, found := shifted(v, 10); return !found }
	edge.Check(t, []edge.Limit{
		{Name: "too low, 10 cells", At: 11, Refused: open(10)},
		{Name: "too high, 10 cells", At: 16, Above: true, Refused: open(10)},
		{Name: "too low, 6 cells", At: 6.6, Refused: open(6)},
		{Name: "too high, 6 cells", At: 9.6, Above: true, Refused: open(6)},
		{Name: "half of the open voltage", At: 6.42, Refused: loaded},
		{Name: "a pair two counts the wrong way", At: 12.75, Above: true, Refused: wrongWay},
		{Name: "no sag on average", At: sameCount * dmm.ResolutionV, Refused: level},
		{Name: "no current", At: 0, Itself: true, Refused: current},
		{Name: "50 A", At: 50, Above: true, Refused: current},
		{Name: "5 Ω read", At: 5, Above: true, Refused: direct},
		{Name: "1 mΩ read", At: 0.001, Refused: direct},
		{Name: "open voltage with a direct reading", At: 16, Above: true, Refused: directOpen},
		{Name: "a lost point, 0.7 of the other reading", At: 70, Refused: meant},
		{Name: "a lost point, the other reading itself", At: 100, Above: true, Itself: true, Refused: meant},
	})
	if direct(0) || !direct(math.Nextafter(0, -1)) || !direct(math.Nextafter(0, 1)) { // 0 beside a reading is the display's
		t.Error("0 Ω was refused, or a float beside it accepted")
	}
}

// TestEdgesOfWarnings: each doubt, in numbers that are exact in binary where they
// are compared.
func TestEdgesOfWarnings(t *testing.T) {
	has := func(code string, set func(t *Test, v float64)) func(v float64) bool {
		return func(v float64) bool {
			test := complete()
			set(&test, v)
			return warned(mustCompute(t, test), code)
		}
	}
	charged := func(c Charge) func(t *Test, v float64) {
		return func(t *Test, v float64) { t.OpenV, t.LoadedV, t.Charge = []float64{v}, []float64{v - 0.5}, c }
	}
	temperature := func(t *Test, v float64) { t.TemperatureC = &v }
	outside := func(v float64) bool {
		w := warner{}
		w.onTemperature(v)
		return strings.Contains(w.list[0].Text, "outside")
	}
	result := func(code string, set func(m *model, r *Result, v float64)) func(v float64) bool {
		return func(v float64) bool {
			m, r := &model{display: 0.25}, &Result{ResistanceOhm: 0.1, Repeats: 4, Budget: []BudgetLine{{Source: Scatter}}}
			set(m, r, v)
			w := warner{}
			w.onResult(m, r, 10)
			return warned(Result{Warnings: w.list}, code)
		}
	}
	direct := func(v float64) bool {
		r, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001, OpenV: &v}, Options{})
		return err == nil && warned(r, TooLow)
	}
	bound := func(v float64) bool {
		r, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{v}, ResolutionOhm: 1}, Options{})
		return err == nil && r.BoundOnly
	}
	fuse := mustCompute(t, complete()).CurrentA
	edge.Check(t, []edge.Limit{
		{Name: "cold", At: 15, Refused: has(TemperatureOff, temperature)},
		{Name: "warm", At: 25, Above: true, Refused: has(TemperatureOff, temperature)},
		{Name: "colder than packs may be", At: -20, Refused: outside},
		{Name: "hotter than packs may be", At: 65, Above: true, Refused: outside},
		{Name: "rest", At: 60, Refused: has(NotRested, func(t *Test, v float64) { t.RestedMin = &v })},
		{Name: "lost cell, full", At: 12.6, Refused: has(LostCell, charged(ChargeFull))},
		{Name: "lost cell", At: 12, Refused: has(LostCell, charged(ChargePartial))},
		{Name: "empty on load", At: 10, Refused: has(EmptyOnLoad, func(t *Test, v float64) { t.OpenV, t.LoadedV = []float64{12.8}, []float64{v} })},
		{Name: "very high", At: 0.5, Above: true, Refused: result(VeryHigh, func(_ *model, r *Result, v float64) { r.ResistanceOhm = v })},
		{Name: "implausibly low", At: 0.02, Refused: result(ImplausiblyLow, func(_ *model, r *Result, v float64) { r.ResistanceOhm = v })},
		{Name: "large uncertainty", At: 0.5, Above: true, Refused: result(LargeUncertainty, func(_ *model, r *Result, v float64) { r.ResistanceOhm, r.ExpandedUncertaintyOhm = 1, v })},
		{Name: "large scatter", At: 0.375, Above: true, Refused: result(LargeScatter, func(_ *model, r *Result, v float64) { r.Budget[0].ContributionOhm = v })}, // 0.375·√4 = 3·0.25
		{Name: "too low, direct", At: 11, Refused: direct},
		{Name: "a bound only", At: 1 - sameCount, Refused: bound},
		{Name: "fuse", At: *fuse, Refused: func(v float64) bool {
			r, err := Compute(complete(), Options{FuseA: v})
			return err == nil && warned(r, AboveFuse)
		}},
	})
}

// TestEdgesOfSetups: what a set-up is refused or warned for. Times are counted
// with the 3 s to read and disconnect, as the rule adds them.
func TestEdgesOfSetups(t *testing.T) {
	has := func(code string, set func(s *Setup, v float64)) func(v float64) bool {
		return func(v float64) bool {
			s := rig()
			set(&s, v)
			c := mustSetup(t, s)
			return strings.Contains(codes(c.Refusals), code)
		}
	}
	edge.Check(t, []edge.Limit{
		{Name: "fuse", At: 1.28, Refused: has(SetupAboveFuse, func(s *Setup, v float64) { s.FuseA = v })},
		{Name: "5 s where the rating is unknown", At: 5, Above: true, Refused: has(SetupRatingUnknown, func(s *Setup, v float64) { s.Load.RatingW, s.ReadAfterS = 0, v-3 })},
		{Name: "20 J for each watt on the heat sink", At: 10, Above: true, Refused: has(SetupTooLong, func(s *Setup, v float64) {
			s.OpenV, s.Load.Ohm, s.Load.RatingW, s.ReadAfterS = 16, 8, 16, v-3 // 2 A, 32 W
		})},
		{Name: "10 J for each watt without", At: 10, Above: true, Refused: has(SetupTooLong, func(s *Setup, v float64) {
			s.OpenV, s.Load.Ohm, s.Load.RatingW, s.Load.OnHeatSink, s.ReadAfterS = 16, 8, 32, false, v-3
		})},
		{Name: "five times the rating", At: 6.4, Refused: has(SetupAboveLoad, func(s *Setup, v float64) {
			s.OpenV, s.Load.Ohm, s.Load.RatingW = 16, 8, v // 32 W
		})},
		{Name: "a quarter of the limit", At: 25, Above: true, Refused: func(v float64) bool {
			s := rig()
			return strings.Contains(codes(setupWarnings(&s, &SetupCheck{ShareOfLimitPct: v})), SetupCoarse)
		}},
		{Name: "a tenth of the limit is good", At: 0.01, Above: true, Refused: func(v float64) bool {
			s := rig()
			return bestChange(&s, v) != ""
		}},
	})
}
