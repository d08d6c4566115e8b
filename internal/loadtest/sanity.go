package loadtest

import (
	"fmt"

	"packwright/internal/cells"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// sameCount is how much of a display's last digit two typed readings must
// differ by to count as different: 12.84 − 12.83 is a hair under 0.01 in
// binary, and still one count.
const sameCount = 1e-6

// CheckOpen says, before a load is connected, whether a pack that shows v
// without one may be tested. Errors are *problem.Error about open_v.
func CheckOpen(v float64, o Options) error {
	n, err := cellsOf(o)
	if err != nil {
		return err
	}
	if err := checkList("open_v", []float64{v}); err != nil {
		return err
	}
	return refuseHigher("open_v", v, n)
}

// refuse looks for readings that cannot be true, and for a pack that must not
// be tested. m is the model of t.
func refuse(t *Test, m *model, n int) error {
	first, second := "open_v", "loaded_v"
	high, low := t.OpenV, t.LoadedV
	if t.Method == TwoLoads {
		first, second = "loaded_1_v", "loaded_2_v"
		high, low = t.Loaded1V, t.Loaded2V
	}
	for i := range high {
		if err := refuseHigher(first, high[i], n); err != nil {
			return err
		}
		if err := refuseLower(second, low[i], high[i], t.Meter.ResolutionV); err != nil {
			return err
		}
	}
	if t.Method == MeasuredCurrent {
		for i, a := range t.CurrentA {
			if err := refuseCurrent(a, t.LoadedV[i]); err != nil {
				return err
			}
		}
	}
	if m.sag < sameCount*t.Meter.ResolutionV {
		return notBelow(second, measure.ShowReading(m.loaded, t.Meter.ResolutionV, "V"), "on average")
	}
	if t.Method == TwoLoads && !(m.resistance > 0) {
		return problem.Invalidf("load_2_ohm", "check which reading belongs to which load",
			"the smaller load draws less current than the larger one")
	}
	return nil
}

// refuseHigher checks a reading without load, or on the larger of two loads.
func refuseHigher(field string, v float64, n int) error {
	if v <= 0 {
		return notPositive(field, v)
	}
	if v > cells.HighestV(n) {
		return problem.Invalidf(field, slipHint(v, n), "%s is more than %d cells can show (%s)",
			measure.Show(v, "V"), n, measure.Show(cells.HighestV(n), "V"))
	}
	if v < cells.TooLowV(n) {
		if meant, found := cells.Slip(v, n); found {
			return problem.Invalidf(field, didYouMean(meant), "%s is far below what %d cells show", measure.Show(v, "V"), n)
		}
		return problem.Invalidf(field, "recharge it first; testing drains it further and can reverse a cell",
			"%s is too low to test %d cells: under %s", measure.Show(v, "V"), n, measure.Show(cells.TooLowV(n), "V"))
	}
	return nil
}

// refuseLower checks a reading on load against the one before it. A pair may
// be level within two counts: whether there is a sag is asked of the means.
func refuseLower(field string, v, before, resolution float64) error {
	switch {
	case v <= 0:
		return notPositive(field, v)
	case v > before+2*resolution:
		if meant, found := shifted(v, before); found {
			return problem.Invalidf(field, didYouMean(meant), "%s on load is more than without (%s)", measure.Show(v, "V"), measure.Show(before, "V"))
		}
		return notBelow(field, measure.ShowReading(v, resolution, "V"), "against "+measure.ShowReading(before, resolution, "V"))
	case v < before/2:
		if meant, found := shifted(v, before); found {
			return problem.Invalidf(field, didYouMean(meant), "%s on load is less than half of %s", measure.Show(v, "V"), measure.Show(before, "V"))
		}
		return problem.Invalidf(field, "disconnect, and check the contacts, the fuse and the load's value before trying again",
			"%s on load is less than half of %s", measure.Show(v, "V"), measure.Show(before, "V"))
	}
	return nil
}

// refuseCurrent looks for milliampere typed as ampere: no pack of this kind
// gives 50 A through a test load.
func refuseCurrent(a, loadedV float64) error {
	if a <= 0 {
		return problem.Invalidf("current_a", "swap the current meter's leads, or leave out the minus sign", "the current is %s", measure.Show(a, "A"))
	}
	if a > 50 {
		return problem.Invalidf("current_a", "did you mean "+measure.Show(a/1000, "A")+"? Enter it in ampere",
			"%s at %s is more than a test load draws", measure.Show(a, "A"), measure.Show(loadedV, "V"))
	}
	return nil
}

// refuseDirect looks for milliohm typed as ohm and the other way, and for an
// open-circuit voltage that cannot be. A low one is left to a warning: reading
// the resistance takes nothing out of the pack.
func refuseDirect(d *Direct, m *model, n int) error {
	for _, r := range d.ResistanceOhm {
		switch {
		case r < 0:
			return problem.Invalidf("resistance_ohm", "swap the leads, or leave out the minus sign", "%s is below zero", measure.Show(r, "Ω"))
		case r > 5:
			return problem.Invalidf("resistance_ohm", "did you mean "+measure.Show(r/1000, "Ω")+"? Enter it in ohm, or with mΩ behind it",
				"%s is far more than a pack has", measure.Show(r, "Ω"))
		case r > 0 && r < 0.001:
			return problem.Invalidf("resistance_ohm", "did you mean "+measure.Show(r*1000, "Ω")+"?",
				"%s is far less than a pack has", measure.Show(r, "Ω"))
		}
	}
	if d.OpenV != nil {
		_, slip := cells.Slip(*d.OpenV, n)
		if *d.OpenV <= 0 || *d.OpenV > cells.HighestV(n) || *d.OpenV < cells.TooLowV(n) && slip {
			return refuseHigher("open_v", *d.OpenV, n)
		}
	}
	if !(m.resistance > 0) {
		return problem.Invalidf("resistance_ohm", "check the instrument's leads and range", "the instrument shows nothing but zero")
	}
	return nil
}

func notPositive(field string, v float64) error {
	if v == 0 {
		return problem.Invalidf(field, "check the probes, the fuse and the meter's range", "the voltage is zero")
	}
	return problem.Invalidf(field, "swap the meter's probes, or leave out the minus sign", "%s is below zero", measure.Show(v, "V"))
}

func notBelow(field, loaded, against string) error {
	return problem.Invalidf(field, "was the load really connected, and are the two readings in the right order?",
		"the reading on load, %s %s, is not below the one without", loaded, against)
}

func slipHint(v float64, n int) string {
	if meant, found := cells.Slip(v, n); found {
		return didYouMean(meant)
	}
	return fmt.Sprintf("check the reading, and that the pack has %d cells", n)
}

func didYouMean(v float64) string {
	return "did you mean " + measure.Show(v, "V") + "? Enter it in volt"
}

// shifted is the voltage a reading on load was meant to be, where a usual slip
// of the decimal point or of millivolts explains it.
func shifted(v, before float64) (meant float64, found bool) {
	for _, divisor := range []float64{1000, 100, 10, 0.001, 0.01, 0.1} {
		if s := v / divisor; s >= 0.7*before && s < before {
			return s, true
		}
	}
	return 0, false
}
