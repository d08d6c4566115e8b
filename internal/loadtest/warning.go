package loadtest

import (
	"fmt"
	"math"
	"strings"

	"packwright/internal/cells"
	"packwright/internal/measure"
)

// The codes of warnings. They are part of the API.
const (
	OneReading       = "one-reading"              // no scatter could be seen
	ToleranceAssumed = "load-tolerance-assumed"   // ±5 %
	AccuracyAssumed  = "current-accuracy-assumed" // ±2 %
	SagBelowDisplay  = "sag-below-display"        // only a bound on R
	LargeUncertainty = "uncertainty-large"        // U is more than half of R
	LargeScatter     = "scatter-large"            // more than the meter explains: a contact
	ImplausiblyLow   = "resistance-implausible"   // no pack is that good: the load was not on
	VeryHigh         = "resistance-high"          // contacts first
	LostCell         = "lost-cell"                // open voltage about a cell short
	TooLow           = "too-low"                  // direct reading of a pack that needs charge
	EmptyOnLoad      = "empty-on-load"            // below 1.0 V per cell on load
	NotFull          = "not-full"
	NotRested        = "not-rested"
	TemperatureOff   = "temperature-off" // outside 15 to 25 °C
	SecondMissing    = "reading-second-missing"
	ConditionsMissed = "conditions-missing" // temperature, charge or rest not recorded
	AboveFuse        = "current-above-fuse"
	NotComparableAC  = "ac-reading" // lies below a d.c. one
)

const (
	usualFuseA = 20.0 // ampere, the fuse in the lead of such a pack (common practice, no source)
	restedMin  = 60.0 // minute of rest after charging (common practice, no source)
	highOhm    = 0.05 // ohm per cell, above which contacts are suspected first (common practice, no source)

	// The widest range in which the makers' data sheets that package cells names
	// allow storage or discharge, °C.
	lowestC  = -20.0
	highestC = 65.0
)

// warningsOf gathers the doubts about a load test.
func warningsOf(t *Test, m *model, r *Result, n int, fuseA float64) []Warning {
	w := warner{list: make([]Warning, 0, 4)}
	w.onResult(m, r, n)
	if t.Method == MeasuredCurrent {
		if t.CurrentPct == nil && t.CurrentResolutionA == nil {
			w.add(AccuracyAssumed, "the current meter's accuracy is not given: ±2 % of reading is assumed", "take it from the meter's manual")
		}
	} else if t.LoadTolerancePct == nil && t.LoadUncertaintyOhm == nil {
		w.toleranceAssumed()
	}
	if fuseA == 0 {
		fuseA = usualFuseA
	}
	if m.current > fuseA {
		w.add(AboveFuse, fmt.Sprintf("%s through the load is more than the %s fuse is for", measure.ShowRough(m.current, "A"), measure.Show(fuseA, "A")), "use a larger resistance")
	}
	if t.Method != TwoLoads {
		w.onOpenVoltage(m.open, n, t.Charge)
	}
	if m.loaded < cells.EmptyOnLoadV(n) {
		w.add(EmptyOnLoad, fmt.Sprintf("on load it fell below %s, 1.0 V per cell", measure.Show(cells.EmptyOnLoadV(n), "V")), "recharge before the next test; check the contacts if it was full")
	}
	if t.ReadAfterS == nil { // the figures: calculated from the drive log that package cells names
		w.add(SecondMissing, "the reading second is not recorded, and resistance grows with time on load (10 to 35 % from 1 s to 5 s)", "read every test at the same second and record it")
	}
	w.onConditions(t.TemperatureC, t.Charge, t.RestedMin)
	return w.list
}

// directWarnings gathers the doubts about a direct reading.
func directWarnings(d *Direct, m *model, r *Result, n int) []Warning {
	w := warner{list: make([]Warning, 0, 4)}
	w.onResult(m, r, n)
	if d.Method == DirectAC {
		w.add(NotComparableAC, "an a.c. reading lies below a load test's: it leaves out what builds up over seconds", "compare it only with other a.c. readings; judge by a load test")
	}
	if d.OpenV != nil {
		if *d.OpenV < cells.TooLowV(n) {
			w.add(TooLow, fmt.Sprintf("%s is too low to judge %d cells", measure.Show(*d.OpenV, "V"), n), "recharge, rest, and read again")
		} else {
			w.onOpenVoltage(*d.OpenV, n, d.Charge)
		}
	}
	w.onConditions(d.TemperatureC, d.Charge, d.RestedMin)
	return w.list
}

// warner collects warnings in the order they should be read. Its list is made,
// so that it travels as [] where there are none.
type warner struct{ list []Warning }

// add appends a warning; kept out of line as board.set is.
//
//go:noinline
func (w *warner) add(code, text, hint string) {
	w.list = append(w.list, Warning{Code: code, Text: text, Hint: hint})
}

func (w *warner) toleranceAssumed() {
	w.add(ToleranceAssumed, "the load's tolerance is not given: ±5 % is assumed, as usual for power resistors", "read it off the resistor, or measure the resistor")
}

// onResult warns of what the numbers themselves say.
func (w *warner) onResult(m *model, r *Result, n int) {
	upper := r.ResistanceOhm + r.ExpandedUncertaintyOhm
	if upper < cells.ImplausiblyLowOhm(n) {
		w.add(ImplausiblyLow, fmt.Sprintf("%s at most is less than any pack has", measure.ShowRough(upper, "Ω")), "check that the load was really connected, and its value")
	}
	if r.BoundOnly {
		w.add(SagBelowDisplay, "the change is smaller than the display's last digit: the resistance is only known to be "+measure.ShowRough(upper, "Ω")+" at most", "use a smaller load resistance or a finer display")
	} else if r.ExpandedUncertaintyOhm > r.ResistanceOhm/2 {
		w.add(LargeUncertainty, "the uncertainty is more than half of the value", "use a smaller load resistance or a finer display")
	}
	if r.ResistanceOhm > highOhm*float64(n) {
		w.add(VeryHigh, measure.ShowRough(r.ResistanceOhm, "Ω")+" is very high", "look for a bad contact, lead or fuse before blaming the cells")
	}
	if r.Repeats < 2 {
		w.add(OneReading, "one reading shows no scatter: the uncertainty covers the instruments only", "repeat the test, three readings are usual")
	} else if scatter := r.Budget[0].ContributionOhm * math.Sqrt(float64(r.Repeats)); scatter > 3*m.display {
		w.add(LargeScatter, "the readings scatter more than the meter explains", "wiggle the connector and leads: a bad contact is likelier than bad cells")
	}
}

// onOpenVoltage warns of an open-circuit voltage that is about a cell short.
func (w *warner) onOpenVoltage(v float64, n int, c Charge) {
	full := c == ChargeFull
	if v >= cells.LostCellV(n, full) {
		return
	}
	state, hint := "", "recharge, rest and read again; if it stays low, compare with its sister packs"
	if full {
		state, hint = " for a full pack", "a shorted or reversed cell takes 1.2 to 1.3 V off: compare with its sister packs and set it aside if it stays low"
	}
	w.add(LostCell, fmt.Sprintf("%s is low%s of %d cells: nearly empty, or a cell is lost", measure.Show(v, "V"), state, n), hint)
}

// onConditions warns of circumstances in which readings do not compare.
func (w *warner) onConditions(temperatureC *float64, c Charge, rested *float64) {
	var missing []string
	switch c {
	case ChargePartial: // the figures: calculated from the simulator's charge file that package cells names
		w.add(NotFull, "the pack was not full: resistance is some 10 % higher when full and 40 % higher when empty than in between", "compare only with tests at the same charge")
	case ChargeFull:
	default:
		missing = append(missing, "charge")
	}
	switch {
	case rested == nil:
		missing = append(missing, "rest since charging")
	case *rested < restedMin:
		w.add(NotRested, measure.ShowRough(*rested, "min")+" of rest is short: surface charge makes the resistance look higher", "rest it an hour or more after charging")
	}
	switch {
	case temperatureC == nil:
		missing = append(missing, "temperature")
	case *temperatureC < cells.ComparableLowC || *temperatureC > cells.ComparableHighC:
		w.onTemperature(*temperatureC)
	}
	if len(missing) > 0 {
		w.add(ConditionsMissed, "not recorded: "+strings.Join(missing, ", "), "record it, so that tests can be compared")
	}
}

func (w *warner) onTemperature(c float64) {
	if c < lowestC || c > highestC {
		w.add(TemperatureOff, measure.Show(c, "°C")+" is outside what a pack may have", "was that °F? Enter it in °C")
		return
	}
	percent := 100 * (cells.ResistanceRatio(c) - 1)
	more := "higher"
	if percent < 0 {
		percent, more = -percent, "lower"
	}
	rate := "2.6 % per °C"
	if c > cells.KneeC {
		rate += ", 1.75 % above " + measure.Show(cells.KneeC, "°C")
	}
	w.add(TemperatureOff, fmt.Sprintf("at %s the resistance is about %s %s than at 20 °C (%s)", measure.Show(c, "°C"), measure.ShowPercent(percent), more, rate), "test at room temperature, or compare only with tests as warm")
}
