package loadtest

import (
	"fmt"
	"math"
	"strconv"

	"packwright/internal/place"
	"packwright/internal/problem"
)

// mostReadings is the most readings of one kind in a test: far beyond what a
// person takes, and a bound on what a stored entry can make a phone compute.
const mostReadings = 1000

// Check says whether the record is structurally valid: finite numbers, the
// lists its method needs, paired and not empty, positive load, known method.
// It is what a store must refuse; readings that are well formed but cannot be
// true are left to Compute. Errors are *problem.Error.
func (t Test) Check() error {
	if err := t.checkReadings(); err != nil {
		return err
	}
	if t.LoadTolerancePct != nil && t.LoadUncertaintyOhm != nil {
		return problem.Invalidf("load_tolerance_pct", "give the tolerance, or the uncertainty where the load was measured",
			"the load has both a tolerance and an uncertainty")
	}
	if err := t.Meter.Check(); err != nil {
		return err
	}
	if t.CurrentCounts != nil && *t.CurrentCounts > 0 && t.CurrentResolutionA == nil {
		return problem.Invalidf("current_resolution_a", "say how many ampere the last digit is worth",
			"the current meter's counts have no resolution")
	}
	if err := checkRange("lead_ohm", &t.LeadOhm, 0, 1e6); err != nil {
		return err
	}
	for _, f := range []struct {
		name      string
		value     *float64
		low, high float64
	}{
		{"load_tolerance_pct", t.LoadTolerancePct, 0, 100},
		{"load_uncertainty_ohm", t.LoadUncertaintyOhm, 0, 1e6},
		{"load_tempco_ppm_k", t.LoadTempcoPpmK, -1e5, 1e5},
		{"load_rise_k", t.LoadRiseK, -100, 1000},
		{"lead_uncertainty_ohm", t.LeadUncertaintyOhm, 0, 1e6},
		{"current_pct", t.CurrentPct, 0, 100},
		{"current_counts", t.CurrentCounts, 0, 1e6},
		{"current_resolution_a", t.CurrentResolutionA, 0, 1e6},
		{"read_after_s", t.ReadAfterS, 0, 1e6},
		{"temperature_c", t.TemperatureC, -273.15, 1000},
		{"rested_min", t.RestedMin, 0, 1e7},
	} {
		if err := checkRange(f.name, f.value, f.low, f.high); err != nil {
			return err
		}
	}
	if err := checkCharge(t.Charge); err != nil {
		return err
	}
	return checkTime(t.TakenAt)
}

func (t Test) checkReadings() error {
	switch t.Method {
	case KnownLoad:
		if err := checkLists("open_v", t.OpenV, "loaded_v", t.LoadedV); err != nil {
			return err
		}
		return checkPositive("load_ohm", t.LoadOhm)
	case TwoLoads:
		if err := checkLists("loaded_1_v", t.Loaded1V, "loaded_2_v", t.Loaded2V); err != nil {
			return err
		}
		if err := checkPositive("load_1_ohm", t.Load1Ohm); err != nil {
			return err
		}
		if err := checkPositive("load_2_ohm", t.Load2Ohm); err != nil {
			return err
		}
		if t.Load1Ohm == t.Load2Ohm {
			return problem.Invalidf("load_2_ohm", "use two loads that differ, for example 22 Ω and 2.7 Ω",
				"both loads have the same resistance")
		}
		return nil
	case MeasuredCurrent:
		if err := checkLists("open_v", t.OpenV, "loaded_v", t.LoadedV); err != nil {
			return err
		}
		return checkLists("open_v", t.OpenV, "current_a", t.CurrentA)
	}
	return problem.Invalidf("method", "use known-load, two-loads or measured-current", "%q is not a method of load test", string(t.Method))
}

// Check says whether the record is structurally valid, as Test.Check does.
func (d Direct) Check() error {
	if d.Method != DirectAC && d.Method != DirectDC {
		return problem.Invalidf("method", "use direct-ac or direct-dc", "%q is not a method of direct reading", string(d.Method))
	}
	if err := checkList("resistance_ohm", d.ResistanceOhm); err != nil {
		return err
	}
	for _, f := range []struct {
		name      string
		value     *float64
		low, high float64
	}{
		{"accuracy_pct", &d.AccuracyPct, 0, 100},
		{"counts", &d.Counts, 0, 1e6},
		{"frequency_hz", d.FrequencyHz, 0, 1e9},
		{"open_v", d.OpenV, -1e6, 1e6},
		{"temperature_c", d.TemperatureC, -273.15, 1000},
		{"rested_min", d.RestedMin, 0, 1e7},
	} {
		if err := checkRange(f.name, f.value, f.low, f.high); err != nil {
			return err
		}
	}
	if err := checkPositive("resolution_ohm", d.ResolutionOhm); err != nil {
		return err
	}
	if err := checkCharge(d.Charge); err != nil {
		return err
	}
	return checkTime(d.TakenAt)
}

func checkList(name string, list []float64) error {
	if len(list) == 0 {
		return problem.Invalidf(name, "enter at least one", "there is no reading")
	}
	if len(list) > mostReadings {
		return problem.Invalidf(name, fmt.Sprintf("enter at most %d", mostReadings), "there are %d readings", len(list))
	}
	for _, v := range list {
		if math.IsNaN(v) || math.Abs(v) > 1e6 {
			return problem.Invalidf(name, "enter it in the base unit, such as 12.84", "%s is not a possible reading", plain(v))
		}
	}
	return nil
}

func checkLists(nameA string, a []float64, nameB string, b []float64) error {
	if err := checkList(nameA, a); err != nil {
		return err
	}
	if err := checkList(nameB, b); err != nil {
		return err
	}
	if len(a) != len(b) {
		return problem.Invalidf(nameB, "enter as many of both, paired in the order they were read",
			"there are %d of one reading and %d of the other", len(a), len(b))
	}
	return nil
}

func checkPositive(name string, v float64) error {
	if !(v > 0 && v <= 1e6) {
		return problem.Invalidf(name, "enter a number above zero", "%s is not a possible value", plain(v))
	}
	return nil
}

func checkRange(name string, v *float64, low, high float64) error {
	if v != nil && !(*v >= low && *v <= high) {
		return problem.Invalidf(name, fmt.Sprintf("enter a number from %s to %s", plain(low), plain(high)), "%s is not a possible value", plain(*v))
	}
	return nil
}

func checkCharge(c Charge) error {
	switch c {
	case "", ChargeFull, ChargePartial, ChargeUnknown:
		return nil
	}
	return problem.Invalidf("charge", "use full, partial or unknown", "%q is not a state of charge", string(c))
}

func checkTime(s string) error {
	if s == "" {
		return nil
	}
	if _, ok := place.TimeMS(s); !ok {
		return problem.Invalidf("taken_at", "write it like 2026-03-14T10:30:00Z", "%q is not a date and time", s)
	}
	return nil
}

// plain writes a number without rounding.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
