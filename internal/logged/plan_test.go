package logged

import (
	"math"
	"slices"
	"testing"

	"packwright/internal/loadtest"
	"packwright/internal/problem"
)

var dmm = loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}

func planCodes(list []loadtest.Warning) []string {
	codes := []string{}
	for _, w := range list {
		codes = append(codes, w.Code)
	}
	return codes
}

// TestPlanRun: a 3 Ah pack of ten on 10 Ω. At 1.2 V per cell, the nominal voltage
// of IEC 61951-2, it gives 1.2 A, so its rating lasts 2.5 h.
func TestPlanRun(t *testing.T) {
	sink := loadtest.Load{Ohm: 10, RatingW: 50, OnHeatSink: true}
	p, err := PlanRun(sink, dmm, 20, 13, Options{RatedAh: 3})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(p.CurrentA-1.3) > 1e-12 || math.Abs(p.PowerW-16.9) > 1e-12 || p.StopV != 10 || p.WatchV != 11 || p.LeastV != 10 {
		t.Errorf("%+v", p)
	}
	if p.DurationS == nil || *p.DurationS != 9000 {
		t.Errorf("duration %v", p.DurationS)
	}
	if len(p.Refusals) > 0 || !slices.Equal(planCodes(p.Warnings), []string{"fast"}) {
		t.Errorf("%v %v", p.Refusals, p.Warnings)
	}
	if p, _ := PlanRun(loadtest.Load{Ohm: 20, RatingW: 50, OnHeatSink: true}, dmm, 20, 13, Options{RatedAh: 3, StopV: 11}); len(p.Warnings) > 0 || p.WatchV != 12 {
		t.Errorf("at 0.2 It and 11 V: %+v", p)
	}
	if p, _ := PlanRun(sink, dmm, 0, 13, Options{}); p.DurationS != nil || !slices.Equal(planCodes(p.Warnings), []string{loadtest.SetupFuseUnknown}) {
		t.Errorf("without rating and fuse: %+v", p)
	}
}

// TestPlanSuggests: the load of 0.2 It for ten cells of 3 Ah is 12 V / 0.6 A = 20 Ω. It
// is suggested where the load takes more than three times as much, or less than a
// third.
func TestPlanSuggests(t *testing.T) {
	for ohm, want := range map[float64]float64{2.5: 20, 6.6: 20, 6.7: 0, 10: 0, 20: 0, 59.9: 0, 60.1: 20} {
		p, err := PlanRun(loadtest.Load{Ohm: ohm, RatingW: 100, OnHeatSink: true}, dmm, 20, 13, Options{RatedAh: 3})
		if err != nil || (p.SuggestOhm != nil) != (want > 0) || want > 0 && !near(*p.SuggestOhm, want, 1e-9) {
			t.Errorf("%g Ω: %v, want %g; %v", ohm, p.SuggestOhm, want, err)
		}
	}
	if p, err := PlanRun(loadtest.Load{Ohm: 2.5, RatingW: 100, OnHeatSink: true}, dmm, 20, 13, Options{}); err != nil || p.SuggestOhm != nil {
		t.Errorf("without a rating: %v, %v", p.SuggestOhm, err)
	}
}

// TestPlanOptions: what the run is worked out with. 2 counts of 10 mV are 0.2 % of
// 10 V; a standard uncertainty of 0.1 Ω is that of a rectangle of ± 0.1·√3 Ω.
func TestPlanOptions(t *testing.T) {
	load := loadtest.Load{Ohm: 9.9, LeadOhm: 0.1, UncertaintyOhm: new(0.099), RatingW: 100, OnHeatSink: true}
	p, err := PlanRun(load, dmm, 20, 13, Options{Cells: 10, RatedAh: 3})
	if err != nil {
		t.Fatal(err)
	}
	o := p.Options
	if o.Cells != 10 || o.RatedAh != 3 || o.StopV != 10 || o.LoadOhm != 10 || o.GoodPct != 0 {
		t.Errorf("%+v", o)
	}
	if !near(*o.VoltPct, 0.7, 1e-12) || !near(*o.LoadTolerancePct, math.Sqrt(3), 1e-12) {
		t.Errorf("volts ± %g %%, load ± %g %%", *o.VoltPct, *o.LoadTolerancePct)
	}
}

// TestPlanRefusals: what must not be connected for hours.
func TestPlanRefusals(t *testing.T) {
	for _, c := range []struct {
		load   loadtest.Load
		fuseA  float64
		stopV  float64
		refuse []string
	}{
		{loadtest.Load{Ohm: 10, RatingW: 50}, 20, 0, []string{PlanHeats}}, // a fifth of 50 W without its heat sink
		{loadtest.Load{Ohm: 10, RatingW: 85}, 20, 0, []string{}},
		{loadtest.Load{Ohm: 10}, 20, 0, []string{PlanUnrated}},
		{loadtest.Load{Ohm: 1, RatingW: 25}, 20, 0, []string{loadtest.SetupAboveLoad, loadtest.SetupTooLong}},
		{loadtest.Load{Ohm: 10, RatingW: 50, OnHeatSink: true}, 1, 0, []string{loadtest.SetupAboveFuse}},
		{loadtest.Load{Ohm: 10, RatingW: 50, OnHeatSink: true}, 20, 9.9, []string{PlanLow}},
	} {
		p, err := PlanRun(c.load, dmm, c.fuseA, 13, Options{RatedAh: 3, StopV: c.stopV})
		if err != nil || !slices.Equal(planCodes(p.Refusals), c.refuse) {
			t.Errorf("%+v: %v, %v", c, p.Refusals, err)
		}
	}
	for _, c := range []struct {
		field string
		load  loadtest.Load
		o     Options
	}{{"load.ohm", loadtest.Load{}, Options{}}, {"stop_v", loadtest.Load{Ohm: 10}, Options{StopV: 13}}, {"cells", loadtest.Load{Ohm: 10}, Options{Cells: -1}}} {
		_, err := PlanRun(c.load, dmm, 20, 13, c.o)
		if p, ok := problem.As(err); !ok || p.Field != c.field {
			t.Errorf("%s: %v", c.field, err)
		}
	}
}
