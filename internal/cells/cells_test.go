package cells

import (
	"math"
	"testing"

	"packwright/internal/edge"
)

// TestFigures: the figures for ten cells, as the trade states them. 11 V and
// 1.2 to 1.3 V short are common practice without a source, 13.0 V for a full
// rested pack is a maker's specification, 12.0 V and 16 V are from memory.
func TestFigures(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"too low", TooLowV(10), 11},
		{"highest", HighestV(10), 16},
		{"lost cell, full", LostCellV(10, true), 12.6},
		{"lost cell", LostCellV(10, false), 12},
		{"empty on load", EmptyOnLoadV(10), 10},
		{"too low, 6 cells", TooLowV(6), 6.6},
		{"implausibly low", ImplausiblyLowOhm(10), 0.02},
	} {
		if c.got != c.want {
			t.Errorf("%s: %g, want %g", c.name, c.got, c.want)
		}
	}
	// A full pack of 13.0 to 14.0 V less one cell lies on the right side.
	if full, lost := 13.0, 13.8-1.3; full < LostCellV(10, true) || lost > LostCellV(10, true) {
		t.Error("the bound does not part full packs from those a cell short")
	}
}

func TestSlip(t *testing.T) {
	for typed, want := range map[float64]float64{12840: 12.84, 1284: 12.84, 128.4: 12.84, 0.01284: 12.84, 1.284: 12.84, 0.1284: 12.84} {
		if meant, found := Slip(typed, 10); !found || math.Abs(meant-want) > 1e-12 {
			t.Errorf("Slip(%g) = %g %t, want %g", typed, meant, found, want)
		}
	}
	for _, typed := range []float64{10.9, 25.2, 0, -12, 9, 20, math.NaN()} {
		if meant, found := Slip(typed, 10); found {
			t.Errorf("Slip(%g) = %g, want none", typed, meant)
		}
	}
}

// TestSlipEdges: a slip is one only if the voltage meant is possible, from 11 V to
// 16 V for ten cells.
func TestSlipEdges(t *testing.T) {
	none := func(v float64) bool { _, found := Slip(v, 10); return !found }
	var limits []edge.Limit
	for _, slip := range []struct {
		name   string
		factor float64
	}{{"millivolts", 1000}, {"point lost, two places", 100}, {"point lost", 10}} {
		limits = append(limits, edge.Range(slip.name, 11*slip.factor, 16*slip.factor, none)...)
	}
	edge.Check(t, limits)
}

// TestResistanceRatio: the published ratios R(1 °C)/R(26 °C) = 1.92 and
// R(40 °C)/R(26 °C) = 0.78, from the resistances that the simulator's module file
// gives (see the package comment): in mΩ at 1, 26 and 40 °C 17.9, 9.30 and 7.28 in
// series with 18.2, 9.49 and 7.43, which is what a long load sees.
func TestResistanceRatio(t *testing.T) {
	for _, c := range []struct{ got, want float64 }{
		{ResistanceRatio(20), 1},
		{ResistanceRatio(1) / ResistanceRatio(26), (17.9 + 18.2) / (9.30 + 9.49)},
		{ResistanceRatio(40) / ResistanceRatio(26), (7.28 + 7.43) / (9.30 + 9.49)},
	} {
		if math.Abs(c.got-c.want) > 0.006 { // the coefficients have two and three digits
			t.Errorf("%.4f, want %.4f", c.got, c.want)
		}
	}
	if at, after := ResistanceRatio(26), ResistanceRatio(math.Nextafter(26, 30)); after > at || at-after > 1e-9 {
		t.Errorf("a jump at 26 °C: %g then %g", at, after)
	}
}
