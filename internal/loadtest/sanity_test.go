package loadtest

import (
	"math"
	"testing"

	"packwright/internal/problem"
)

// with changes the test of the examples.
func with(change func(t *Test)) Test {
	t := bench()
	change(&t)
	return t
}

// TestImplausibleReadings: each is refused with the field, what was wrong and
// what to try.
func TestImplausibleReadings(t *testing.T) {
	two := Test{Method: TwoLoads, Loaded1V: []float64{12.77}, Loaded2V: []float64{12.34}, Load1Ohm: 22, Load2Ohm: 2.7, Meter: dmm}
	current := Test{Method: MeasuredCurrent, OpenV: []float64{12.84}, LoadedV: []float64{12.71}, CurrentA: []float64{1.27}, Meter: dmm}
	cases := []struct {
		name              string
		test              Test
		field, text, hint string
	}{
		{"loaded equal to open", with(func(t *Test) { t.LoadedV = []float64{12.84} }), "loaded_v",
			"the reading on load, 12.84 V on average, is not below the one without", "was the load really connected, and are the two readings in the right order?"},
		{"loaded above open", with(func(t *Test) { t.OpenV, t.LoadedV = t.LoadedV, t.OpenV }), "loaded_v",
			"the reading on load, 12.84 V against 12.71 V, is not below the one without", "was the load really connected, and are the two readings in the right order?"},
		{"one pair the wrong way round", with(func(t *Test) { t.OpenV, t.LoadedV = []float64{12.84, 12.71}, []float64{12.40, 12.84} }), "loaded_v",
			"the reading on load, 12.84 V against 12.71 V, is not below the one without", "was the load really connected, and are the two readings in the right order?"},
		{"probes swapped", with(func(t *Test) { t.OpenV = []float64{-12.84} }), "open_v", "-12.84 V is below zero", "swap the meter's probes, or leave out the minus sign"},
		{"nothing", with(func(t *Test) { t.OpenV = []float64{0} }), "open_v", "the voltage is zero", "check the probes, the fuse and the meter's range"},
		{"nothing on load", with(func(t *Test) { t.LoadedV = []float64{0} }), "loaded_v", "the voltage is zero", "check the probes, the fuse and the meter's range"},
		{"probes swapped on load", with(func(t *Test) { t.LoadedV = []float64{-12.71} }), "loaded_v", "-12.71 V is below zero", "swap the meter's probes, or leave out the minus sign"},
		{"millivolts", with(func(t *Test) { t.OpenV = []float64{12840} }), "open_v", "12840 V is more than 10 cells can show (16 V)", "did you mean 12.84 V? Enter it in volt"},
		{"lost point", with(func(t *Test) { t.OpenV = []float64{1284} }), "open_v", "1284 V is more than 10 cells can show (16 V)", "did you mean 12.84 V? Enter it in volt"},
		{"volts as millivolts", with(func(t *Test) { t.OpenV = []float64{0.01284} }), "open_v", "0.01284 V is far below what 10 cells show", "did you mean 12.84 V? Enter it in volt"},
		{"another battery", with(func(t *Test) { t.OpenV = []float64{25.2} }), "open_v", "25.2 V is more than 10 cells can show (16 V)", "check the reading, and that the pack has 10 cells"},
		{"too low", with(func(t *Test) { t.OpenV = []float64{10.9} }), "open_v", "10.9 V is too low to test 10 cells: under 11 V", "recharge it first; testing drains it further and can reverse a cell"},
		{"millivolts on load", with(func(t *Test) { t.LoadedV = []float64{12710} }), "loaded_v", "12710 V on load is more than without (12.84 V)", "did you mean 12.71 V? Enter it in volt"},
		{"lost point on load", with(func(t *Test) { t.LoadedV = []float64{1.271} }), "loaded_v", "1.271 V on load is less than half of 12.84 V", "did you mean 12.71 V? Enter it in volt"},
		{"collapse on load", with(func(t *Test) { t.LoadedV = []float64{4.2} }), "loaded_v", "4.2 V on load is less than half of 12.84 V", "disconnect, and check the contacts, the fuse and the load's value before trying again"},
		{"two loads, the wrong way round", func() Test { x := two; x.Loaded1V, x.Loaded2V = x.Loaded2V, x.Loaded1V; return x }(), "loaded_2_v",
			"the reading on load, 12.77 V against 12.34 V, is not below the one without", "was the load really connected, and are the two readings in the right order?"},
		{"two loads, no more current", func() Test { x := two; x.Load1Ohm, x.Load2Ohm = 22, 21.5; x.Loaded2V = []float64{12.3}; return x }(), "load_2_ohm",
			"the smaller load draws less current than the larger one", "check which reading belongs to which load"},
		{"milliampere", func() Test { x := current; x.CurrentA = []float64{1270}; return x }(), "current_a", "1270 A at 12.71 V is more than a test load draws", "did you mean 1.27 A? Enter it in ampere"},
		{"no current", func() Test { x := current; x.CurrentA = []float64{0}; return x }(), "current_a", "the current is 0 A", "swap the current meter's leads, or leave out the minus sign"},
	}
	for _, c := range cases {
		_, err := Compute(c.test, Options{})
		p, ok := problem.As(err)
		if !ok || p.Kind != problem.Invalid || p.Field != c.field || p.Text != c.text || p.Hint != c.hint {
			t.Errorf("%s: %+v, want %s: %s / %s", c.name, p, c.field, c.text, c.hint)
		}
	}
}

// TestCheckOpen: the same question before a load is connected.
func TestCheckOpen(t *testing.T) {
	if err := CheckOpen(11, Options{}); err != nil {
		t.Errorf("11 V: %v", err)
	}
	for _, v := range []float64{math.Nextafter(11, 0), 12840, 0, -12, math.NaN(), math.Inf(1)} {
		if p, ok := problem.As(CheckOpen(v, Options{})); !ok || p.Field != "open_v" {
			t.Errorf("%g V: %+v, want a problem with open_v", v, p)
		}
	}
	if err := CheckOpen(7.5, Options{Cells: 6}); err != nil {
		t.Errorf("7.5 V, 6 cells: %v", err)
	}
}

func TestImplausibleDirectReadings(t *testing.T) {
	direct := func(r ...float64) error {
		_, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: r, AccuracyPct: 1, Counts: 1, ResolutionOhm: 0.0001}, Options{})
		return err
	}
	cases := []struct {
		readings   []float64
		text, hint string
	}{
		{[]float64{112}, "112 Ω is far more than a pack has", "did you mean 0.112 Ω? Enter it in ohm, or with mΩ behind it"},
		{[]float64{0.000112}, "0.000112 Ω is far less than a pack has", "did you mean 0.112 Ω?"},
		{[]float64{0.1, -0.1}, "-0.1 Ω is below zero", "swap the leads, or leave out the minus sign"},
		{[]float64{0, 0}, "the instrument shows nothing but zero", "check the instrument's leads and range"},
		{[]float64{math.Nextafter(5, 6)}, "5 Ω is far more than a pack has", "did you mean 0.005 Ω? Enter it in ohm, or with mΩ behind it"},
	}
	for _, c := range cases {
		p, ok := problem.As(direct(c.readings...))
		if !ok || p.Text != c.text || p.Hint != c.hint || p.Field != "resistance_ohm" {
			t.Errorf("%v: %+v, want %s / %s", c.readings, p, c.text, c.hint)
		}
	}
	for _, r := range []float64{5, 0.001, 0.1} {
		if err := direct(r); err != nil {
			t.Errorf("%g Ω: %v", r, err)
		}
	}
	for _, v := range []float64{12840, 0.01284, -12.8, 0, 20} {
		_, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001, OpenV: &v}, Options{})
		if p, ok := problem.As(err); !ok || p.Field != "open_v" {
			t.Errorf("open-circuit voltage %g V: %+v", v, p)
		}
	}
}
