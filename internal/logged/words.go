package logged

import (
	"fmt"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// warnings are the doubts that travel with a result.
func (r *Run) warnings(out *Result) []loadtest.Warning {
	list := doubts{}
	r.notPack(out, &list)
	if used := out.Rows + out.SetAside; out.SetAside*20 > used {
		list.add("many-set-aside", "look at the rows named; perhaps the file is read wrongly", "%d of %d rows could not be used", out.SetAside, used)
	}
	if out.SignTurned {
		list.add("sign-turned", "say which sign a discharge has if this is wrong", "discharge is logged as negative current: the signs were turned")
	}
	if out.Voltage.LowestIsSpike {
		list.add("lowest-is-spike", "check the plug and the logger's leads", "the lowest voltage is one row far off its neighbours")
	}
	if s := out.Voltage.BelowOneVoltS; s > 0 {
		list.add("below-one-volt", "stop earlier: a cell driven into reversal is damaged", "the pack was below 1.0 V per cell for %s", showTime(s))
	}
	if r.o.StopV < cells.EmptyOnLoadV(r.o.Cells) {
		list.add("stop-low", "stop at "+measure.Show(cells.EmptyOnLoadV(r.o.Cells), "V")+" or above",
			"the stop voltage of %s is below 1.0 V per cell", measure.Show(r.o.StopV, "V"))
	}
	r.chargeWarnings(out, &list)
	if out.HasAmps && out.Resistance == nil {
		list.add("no-resistance", "log a run in which the load goes on and off", "the current changes too little, or does not fit the volts, to tell a resistance")
	}
	if res := out.Resistance; res != nil && res.ReleaseOhm == nil && out.TypicalIntervalS > slowestS {
		list.add("logged-slowly", "log four times a second or more", "a row every %s is too slow to read the voltage one second after the load", showTime(out.TypicalIntervalS))
	}
	if res := out.Resistance; res != nil && res.WholeRun {
		list.add("few-changes", "log a run with more changes of load", "the current changes in few places: the slow fall of the voltage counts in the slope")
	}
	return list
}

// chargeWarnings are those about charge and capacity.
func (r *Run) chargeWarnings(out *Result, list *doubts) {
	c, k := out.Charge, out.Capacity
	if c == nil {
		list.add("no-amps", "log the current, or enter the load's resistance", "without amps only the volts tell something")
		return
	}
	if c.FromLoad {
		list.add("from-load", "cut off the rows before the load went on and after it went off", "the current is worked out from the load: it is right only while the load was on")
	}
	if out.DurationS > 0 && c.GapS > 0.02*out.DurationS {
		list.add("gaps", "", "%s of %s has no rows: the charge there is a guess", showTime(c.GapS), showTime(out.DurationS))
	}
	if r.o.RatedAh <= 0 {
		return
	}
	if !k.Reached {
		list.add("stop-not-reached", "go on to "+measure.Show(k.StopV, "V"), "the run ended above the stop voltage: the capacity is at least this much")
	}
	if r.first.Volts < k.StopV {
		list.add("starts-below-stop", "charge the pack, or check the stop voltage", "the run begins below the stop voltage")
	}
	if r.o.FromFull == nil {
		list.add("not-said-full", "note whether the pack was fully charged", "it is not said whether the pack was full at the start")
	} else if !*r.o.FromFull {
		list.add("not-full", "charge fully before a capacity check", "the pack was not full at the start: this is not its capacity")
	}
	if t := r.o.PackC; t == nil {
		list.add("no-temperature", "note the pack's temperature", "the temperature is not noted")
	} else if *t < cells.ComparableLowC || *t > cells.ComparableHighC {
		list.add("temperature", "repeat it at room temperature", "%s is outside 15 to 25 °C, in which capacities compare", measure.ShowDigits(*t, 3, "°C"))
	}
	if it := c.MeanOutA / r.o.RatedAh; it > fastIt {
		list.add("fast", "compare it only with runs at the same current", "the mean current is %s times the standard one, "+standardWords+": the pack gives less", measure.ShowRough(it/standardIt, ""))
	}
}

// working is what is written on the blackboard.
type working []loadtest.Step

//go:noinline
func (w *working) add(label, formula, numbers, result string) {
	*w = append(*w, loadtest.Step{Label: label, Formula: formula, Numbers: numbers, Result: result})
}

// working writes the results out as on a blackboard.
func (r *Run) working(out *Result) []loadtest.Step {
	w := working{}
	if c := out.Charge; c != nil {
		current := "I as logged"
		if c.FromLoad {
			current = "I = V / R_L"
			w.add("current from the load", "I = V / R_L", "V / "+measure.Show(r.o.LoadOhm, "Ω"), "mean "+measure.Show(c.MeanOutA, "A"))
		}
		w.add("charge out, by trapezoids", "Q = Σ (Iᵢ + Iᵢ₊₁) / 2 · Δt", fmt.Sprintf("%d rows over %s, %s", out.Rows, showTime(out.DurationS), current), show(c.OutAh, "Ah"))
		if c.InAh.Value > 0 {
			w.add("charge put back", "the same where I < 0", "", show(c.InAh, "Ah"))
		}
		w.add("energy out, by trapezoids", "E = Σ (V·I)ᵢ,ᵢ₊₁ / 2 · Δt", fmt.Sprintf("%d rows", out.Rows), show(c.OutWh, "Wh"))
		if k := out.Capacity; k.SharePct != nil {
			w.add("share of the rating", "Q / rated", measure.Show(k.OutAh.Value, "Ah")+" / "+measure.Show(r.o.RatedAh, "Ah"), show(*k.SharePct, "%"))
		}
	}
	if res := out.Resistance; res != nil {
		if e := res.RobustOhm; e != nil {
			w.add("robust slope", "R = weighted median of −ΔV / ΔI over pairs of rows", fmt.Sprintf("%d rows drawn from all, weights |ΔI|", e.Observations), show(*e, "Ω"))
		}
		if e := res.LeastSquaresOhm; e != nil {
			w.add("least squares over all rows", "R = −Σ (I − Ī)(V − V̄) / Σ (I − Ī)²", fmt.Sprintf("%d rows", e.Observations), show(*e, "Ω"))
		}
		if e := res.ReleaseOhm; e != nil {
			w.add("one second after the load went off", "R = (V after − V before) / (I before − I after)", fmt.Sprintf("mean of %d releases", e.Observations), show(*e, "Ω"))
		}
	}
	if v := out.Voltage; r.o.BrownoutV > 0 {
		w.add("below brown-out", "time with V < V_b", fmt.Sprintf("V_b = %s, %d times, longest %s", measure.Show(r.o.BrownoutV, "V"), v.Dips, showTime(v.LongestDipS)), showTime(v.BelowBrownoutS))
	}
	return w
}

func show(e Estimate, unit string) string {
	if e.ExpandedUncertainty == nil {
		return measure.Show(e.Value, unit)
	}
	return measure.ShowInterval(e.Value, *e.ExpandedUncertainty, unit)
}
