package loadtest

import (
	"math"
	"slices"
	"testing"

	"packwright/internal/problem"
)

func TestCheck(t *testing.T) {
	if err := bench().Check(); err != nil {
		t.Fatal(err)
	}
	nan, inf := math.NaN(), math.Inf(1)
	cases := []struct {
		field string
		test  Test
	}{
		{"method", with(func(t *Test) { t.Method = "guess" })},
		{"method", with(func(t *Test) { t.Method = DirectAC })},
		{"open_v", with(func(t *Test) { t.OpenV = nil })},
		{"loaded_v", with(func(t *Test) { t.LoadedV = []float64{} })},
		{"loaded_v", with(func(t *Test) { t.LoadedV = []float64{12.7, 12.7} })},
		{"open_v", with(func(t *Test) { t.OpenV = []float64{nan} })},
		{"loaded_v", with(func(t *Test) { t.LoadedV = []float64{inf} })},
		{"open_v", with(func(t *Test) {
			t.OpenV, t.LoadedV = slices.Repeat([]float64{12.8}, 1001), slices.Repeat([]float64{12.7}, 1001)
		})},
		{"load_ohm", with(func(t *Test) { t.LoadOhm = 0 })},
		{"load_ohm", with(func(t *Test) { t.LoadOhm = -10 })},
		{"load_ohm", with(func(t *Test) { t.LoadOhm = nan })},
		{"load_tolerance_pct", with(func(t *Test) { t.LoadUncertaintyOhm = ptr(0.1) })},
		{"load_tolerance_pct", with(func(t *Test) { t.LoadTolerancePct = ptr(-1) })},
		{"load_uncertainty_ohm", with(func(t *Test) { t.LoadTolerancePct, t.LoadUncertaintyOhm = nil, ptr(nan) })},
		{"lead_ohm", with(func(t *Test) { t.LeadOhm = -0.1 })},
		{"meter.resolution_v", with(func(t *Test) { t.Meter.ResolutionV = 0 })},
		{"meter.reading_pct", with(func(t *Test) { t.Meter.ReadingPct = 101 })},
		{"meter.counts", with(func(t *Test) { t.Meter.Counts = -1 })},
		{"read_after_s", with(func(t *Test) { t.ReadAfterS = ptr(-1) })},
		{"temperature_c", with(func(t *Test) { t.TemperatureC = ptr(-300) })},
		{"charge", with(func(t *Test) { t.Charge = "half" })},
		{"taken_at", with(func(t *Test) { t.TakenAt = "yesterday" })},
		{"loaded_1_v", Test{Method: TwoLoads, Meter: dmm}},
		{"load_1_ohm", Test{Method: TwoLoads, Loaded1V: []float64{12.7}, Loaded2V: []float64{12.3}, Meter: dmm}},
		{"load_2_ohm", Test{Method: TwoLoads, Loaded1V: []float64{12.7}, Loaded2V: []float64{12.3}, Load1Ohm: 22, Meter: dmm}},
		{"load_2_ohm", Test{Method: TwoLoads, Loaded1V: []float64{12.7}, Loaded2V: []float64{12.3}, Load1Ohm: 22, Load2Ohm: 22, Meter: dmm}},
		{"current_a", Test{Method: MeasuredCurrent, OpenV: []float64{12.7}, LoadedV: []float64{12.3}, Meter: dmm}},
		{"current_resolution_a", Test{Method: MeasuredCurrent, OpenV: []float64{12.7}, LoadedV: []float64{12.3}, CurrentA: []float64{1}, CurrentCounts: ptr(3), Meter: dmm}},
	}
	for _, c := range cases {
		p, ok := problem.As(c.test.Check())
		if !ok || p.Field != c.field || p.Hint == "" || p.Kind != problem.Invalid {
			t.Errorf("%+v: %+v, want a problem with %s", c.test, p, c.field)
		}
		if _, err := Compute(c.test, Options{}); err == nil {
			t.Errorf("Compute accepted what Check refuses about %s", c.field)
		}
	}
}

// TestCheckIsStructural: a store keeps what was really read, however odd.
func TestCheckIsStructural(t *testing.T) {
	for _, test := range []Test{
		with(func(t *Test) { t.LoadedV = []float64{12.84} }),
		with(func(t *Test) { t.OpenV = []float64{-1} }),
		with(func(t *Test) { t.OpenV = []float64{12840} }),
		with(func(t *Test) { t.TakenAt = "2026-03-14T10:30:00+01:00" }),
	} {
		if err := test.Check(); err != nil {
			t.Errorf("%+v: %v", test, err)
		}
	}
}

func TestDirectCheck(t *testing.T) {
	good := Direct{Method: DirectAC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	cases := map[string]func(d *Direct){
		"method":         func(d *Direct) { d.Method = KnownLoad },
		"resistance_ohm": func(d *Direct) { d.ResistanceOhm = nil },
		"resolution_ohm": func(d *Direct) { d.ResolutionOhm = 0 },
		"accuracy_pct":   func(d *Direct) { d.AccuracyPct = math.NaN() },
		"counts":         func(d *Direct) { d.Counts = -1 },
		"frequency_hz":   func(d *Direct) { d.FrequencyHz = ptr(-1) },
		"open_v":         func(d *Direct) { d.OpenV = ptr(math.Inf(1)) },
		"temperature_c":  func(d *Direct) { d.TemperatureC = ptr(-300) },
		"rested_min":     func(d *Direct) { d.RestedMin = ptr(-1) },
		"charge":         func(d *Direct) { d.Charge = "half" },
		"taken_at":       func(d *Direct) { d.TakenAt = "noon" },
	}
	for field, change := range cases {
		d := good
		change(&d)
		if p, ok := problem.As(d.Check()); !ok || p.Field != field {
			t.Errorf("%s: %+v", field, p)
		}
	}
}

func TestParseMeter(t *testing.T) {
	want := Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}
	for _, text := range []string{"0.5%+2", "0,5 % + 2", "±(0.5 % + 2)", "+/-(0.5%+2 digits)", "0.5% + 2 dgt", "0.5%+2 counts"} {
		if m, err := ParseMeter(text, 0.01); err != nil || m != want {
			t.Errorf("%q: %+v, %v", text, m, err)
		}
	}
	if m, err := ParseMeter("1%", 0.01); err != nil || m.ReadingPct != 1 || m.Counts != 0 {
		t.Errorf("1%%: %+v, %v", m, err)
	}
	if m, err := ParseMeter(want.String(), 0.01); err != nil || m != want {
		t.Errorf("%q does not read back: %+v, %v", want.String(), m, err)
	}
	for _, text := range []string{"", "0.5", "2 counts", "%+2", "0.5%2", "0.5%+", "0.5%+x", "0.5%+2%", "-1%+2", "200%+1"} {
		if m, err := ParseMeter(text, 0.01); err == nil {
			t.Errorf("%q was read as %+v", text, m)
		}
	}
	if _, err := ParseMeter("0.5%+2", 0); err == nil {
		t.Error("a resolution of 0 was accepted")
	}
}
