package logged

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/edge"
	"packwright/internal/problem"
)

// TestBounds: too few rows are a clear sentence, two are enough, and values that
// are no numbers are set aside.
func TestBounds(t *testing.T) {
	for name, rows := range map[string][]Row{
		"none": nil, "one": {{Volts: 12}}, "one time": {{Volts: 12}, {Volts: 12}, {Volts: 12}},
		"not numbers": {{Volts: nan}, {Volts: math.Inf(1)}, {TimeS: nan, Volts: 12}, {TimeS: 1e300, Volts: 12}, {Volts: 12, Amps: math.Inf(-1)}},
	} {
		_, err := run(Options{}, rows)
		if p, ok := problem.As(err); !ok || p.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	r, err := run(Options{}, []Row{{TimeS: 0, Volts: 13, Amps: nan}, {TimeS: 1, Volts: 12.9, Amps: 2}})
	if err != nil || r.Rows != 2 || r.Charge == nil || r.Charge.OutAh.Value != 0 || r.Charge.LargestA != 2 {
		t.Errorf("%v %+v", err, r.Charge)
	}
}

// TestOptions: what cannot be is refused with its field, at the limits.
func TestOptions(t *testing.T) {
	for field, o := range map[string]Options{
		"cells": {Cells: -1}, "rated_ah": {RatedAh: nan}, "stop_v": {StopV: -1}, "load_ohm": {LoadOhm: -5}, "brownout_v": {BrownoutV: 100},
		"load_tolerance_pct": {LoadTolerancePct: new(101.0)}, "volt_pct": {VoltPct: new(-1.0)}, "amp_pct": {AmpPct: new(nan)},
		"amp_zero_a": {AmpZeroA: new(-0.1)}, "discharge": {Discharge: "down"}, "good_pct": {GoodPct: 300}, "end_pct": {GoodPct: 70, EndPct: 75},
	} {
		_, err := NewRun(o)
		if p, ok := problem.As(err); !ok || p.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
	refused := func(o Options) bool { _, err := NewRun(o); return err != nil }
	edge.Check(t, append(edge.Range("stop", 0, 20, func(v float64) bool { return refused(Options{StopV: v}) }),
		edge.Range("rating", 0, 1000, func(v float64) bool { return refused(Options{RatedAh: v}) })...))
	setAside := func(r Row) bool {
		run, _ := NewRun(Options{})
		run.Add(r)
		return run.issues.setAside() > 0
	}
	edge.Check(t, append(edge.Range("volts", -20, 20, func(v float64) bool { return setAside(Row{Volts: v}) }),
		edge.Range("amps", -1000, 1000, func(v float64) bool { return setAside(Row{Volts: 12, Amps: v}) })...))
	for _, spoil := range []func(f *Format){
		func(f *Format) { f.Delimiter = "|" }, func(f *Format) { f.Decimal = "'" }, func(f *Format) { f.FirstRow = 0 }, func(f *Format) { f.VoltColumn = 0 },
		func(f *Format) { f.AmpColumn = 2 }, func(f *Format) { f.TimeUnit = "d" }, func(f *Format) { f.VoltUnit = "kV" }, func(f *Format) { f.LineEnd = "" },
	} {
		f := Format{Delimiter: ",", Decimal: ".", LineEnd: "\n", FirstRow: 1, TimeColumn: 1, VoltColumn: 2, AmpColumn: 3, TimeUnit: Seconds, VoltUnit: "V", AmpUnit: "A"}
		spoil(&f)
		if _, err := Open(f, Options{}); err == nil {
			t.Errorf("%+v is taken", f)
		}
	}
}

// TestScaling: another origin of time changes nothing, twice the current is twice
// the charge, and a run cut in two has the charge of both parts.
func TestScaling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := driven(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(40, 400).Draw(t, "rows"), 0.125, newPack(0.1, 0.02))
		origin := float64(rapid.IntRange(-1e6, 2e9).Draw(t, "origin"))
		cut := rapid.IntRange(2, len(rows)-3).Draw(t, "cut")
		change := func(rows []Row, f func(r *Row)) float64 {
			out := append([]Row{}, rows...)
			for i := range out {
				f(&out[i])
			}
			r, err := run(Options{Discharge: "positive"}, out)
			if err != nil {
				t.Fatal(err)
			}
			return r.Charge.OutAh.Value
		}
		same := func(*Row) {}
		whole := change(rows, same)
		if moved := change(rows, func(r *Row) { r.TimeS += origin }); !near(moved, whole, 1e-9) {
			t.Fatalf("moved by %g s: %g, %g", origin, moved, whole)
		}
		if double := change(rows, func(r *Row) { r.Amps *= 2 }); !near(double, 2*whole, 1e-12) {
			t.Fatalf("doubled: %g, %g", double, whole)
		}
		if parts := change(rows[:cut+1], same) + change(rows[cut:], same); !near(parts, whole, 1e-12) {
			t.Fatalf("cut: %g, %g", parts, whole)
		}
	})
}

// An invented log with a decimal comma: 2 A for an hour.
func ExampleAnalysis() {
	file := []byte("Time (min);Voltage (V);Current (A)\n0;13,1;2\n30;12,6;2\n60;12,2;2\n")
	p, _ := Look(file, true, 10, nil)
	a, _ := Open(p.Format, Options{RatedAh: 3})
	_, _ = a.Write(file)
	r, _ := a.Finish()
	fmt.Println(show(r.Charge.OutAh, "Ah"), r.Capacity.Verdict)
	// Output: 2.000 Ah ± 0.051 Ah not-reached
}
