package loadtest

import (
	"math"

	"packwright/internal/measure"
)

// Assumptions where a record does not say (common practice, no source). Each
// comes with a warning.
const (
	usualTolerancePct = 5.0 // of a power resistor
	usualCurrentPct   = 2.0 // of a hand-held meter's ampere range
)

// model is a test brought to means, its resistance by the method's equation,
// and the budget: what each input contributes. All in SI units.
type model struct {
	repeats                      int
	open, loaded, current, power float64
	sag                          float64
	resistance                   float64
	resolution                   float64 // volt per count (load test), ohm per count (direct reading)
	display                      float64 // ohm, what the last digits contribute, for comparison with the scatter
	budget                       []BudgetLine
}

// modelOf is the model of a load test that passed Check, the loads in order.
func modelOf(t *Test) model {
	switch t.Method {
	case TwoLoads:
		return twoLoads(t)
	case MeasuredCurrent:
		return measuredCurrent(t)
	}
	return knownLoad(t)
}

// knownLoad: R = L·(V0/V1 − 1) with L = R_L + r_w. R depends on V0/V1 only, so
// a gain error g common to both (V = g·v) has ∂R/∂g = 0 exactly. It stays in
// the budget as a line of nought, because people look for it.
func knownLoad(t *Test) model {
	v0, v1 := mean(t.OpenV), mean(t.LoadedV)
	load := t.LoadOhm + t.LeadOhm
	ratio := v0 / v1
	c0, c1, cL := load/v1, -load*ratio/v1, ratio-1
	m := model{
		repeats: len(t.OpenV), open: v0, loaded: v1, sag: v0 - v1, current: v1 / load,
		resistance: float64(load * (ratio - 1)), resolution: t.Meter.ResolutionV,
	}
	m.power = float64(measure.Square(m.current) * t.LoadOhm)
	m.budget = make([]BudgetLine, 0, 7)
	m.addScatter([]float64{c0, c1}, t.OpenV, t.LoadedV)
	m.addDisplay(t.Meter, "display of the meter, open reading", "V0", v0, c0)
	m.addDisplay(t.Meter, "display of the meter, reading on load", "V1", v1, c1)
	m.add(gainSource, "g", "", gain(t.Meter), 0)
	m.addLoad(t, "the load", "R_L", t.LoadOhm, cL)
	m.addLead(t, cL)
	return m
}

// twoLoads: R = (V1 − V2)/(I2 − I1) with I = V/(R_L + r_w), load 1 the larger.
// Numerator and denominator are both proportional to a common gain, so it
// cancels here too. The two resistors' errors are taken as independent, which
// is the cautious choice: were they equal, they would partly cancel.
func twoLoads(t *Test) model {
	v1, v2 := mean(t.Loaded1V), mean(t.Loaded2V)
	l1, l2 := t.Load1Ohm+t.LeadOhm, t.Load2Ohm+t.LeadOhm
	i1, i2 := v1/l1, v2/l2
	d := i2 - i1
	r := (v1 - v2) / d
	c1, c2 := (1+r/l1)/d, -(1+r/l2)/d
	cL1, cL2 := -r*i1/(d*l1), r*i2/(d*l2)
	m := model{
		repeats: len(t.Loaded1V), loaded: v2, sag: v1 - v2, current: i2,
		resistance: r, resolution: t.Meter.ResolutionV,
	}
	m.power = float64(measure.Square(i2) * t.Load2Ohm)
	m.budget = make([]BudgetLine, 0, 9)
	m.addScatter([]float64{c1, c2}, t.Loaded1V, t.Loaded2V)
	m.addDisplay(t.Meter, "display of the meter, reading on the larger load", "V1", v1, c1)
	m.addDisplay(t.Meter, "display of the meter, reading on the smaller load", "V2", v2, c2)
	m.add(gainSource, "g", "", gain(t.Meter), 0)
	m.addLoad(t, "the larger load", "R_1", t.Load1Ohm, cL1)
	m.addLoad(t, "the smaller load", "R_2", t.Load2Ohm, cL2)
	m.addLead(t, cL1+cL2)
	return m
}

// measuredCurrent: R = (V0 − V1)/I. The gain of the voltmeter scales the sag,
// so it does not cancel: ∂R/∂g = R. It is one error on the sag, not two on
// the readings, and so far smaller than their own errors would suggest.
func measuredCurrent(t *Test) model {
	v0, v1, i := mean(t.OpenV), mean(t.LoadedV), mean(t.CurrentA)
	r := (v0 - v1) / i
	c0, c1, cI := 1/i, -1/i, -r/i
	m := model{
		repeats: len(t.OpenV), open: v0, loaded: v1, sag: v0 - v1, current: i, power: float64(v1 * i),
		resistance: r, resolution: t.Meter.ResolutionV,
	}
	m.budget = make([]BudgetLine, 0, 6)
	m.addScatter([]float64{c0, c1, cI}, t.OpenV, t.LoadedV, t.CurrentA)
	m.addDisplay(t.Meter, "display of the meter, open reading", "V0", v0, c0)
	m.addDisplay(t.Meter, "display of the meter, reading on load", "V1", v1, c1)
	m.add("gain of the voltmeter, on the sag", "g", "", gain(t.Meter), r)
	pct, counts, resolution := currentMeter(t)
	m.add("accuracy of the current meter", "I", "A", measure.Rectangular(i, i*pct/100), cI)
	if resolution > 0 {
		e := display(counts, resolution)
		e.Value = i
		m.add("display of the current meter", "I", "A", e, cI)
	}
	return m
}

// directModel: R is read, so every error enters as it is.
func directModel(d *Direct) model {
	r := mean(d.ResistanceOhm)
	m := model{repeats: len(d.ResistanceOhm), resistance: r, resolution: d.ResolutionOhm, budget: make([]BudgetLine, 0, 3)}
	m.addScatter([]float64{1}, d.ResistanceOhm)
	m.add("accuracy of the instrument", "R", "Ω", measure.Rectangular(r, r*d.AccuracyPct/100), 1)
	e := display(d.Counts, d.ResolutionOhm)
	e.Value = r
	m.display = e.StdUnc
	m.add("display of the instrument", "R", "Ω", e, 1)
	return m
}

// Scatter is the Source of the budget line that repeats add: it alone shrinks
// with more readings.
const Scatter = "scatter of the repeated readings"

const gainSource = "gain of the meter, common to both readings: cancels"

// add adds the line of one input quantity, with R's sensitivity to it.
func (m *model) add(source, quantity, unit string, e measure.Estimate, sensitivity float64) {
	m.budget = append(m.budget, BudgetLine{
		Source: source, Quantity: quantity, Unit: unit, Value: e.Value, StdUnc: e.StdUnc, Sensitivity: sensitivity,
		ContributionOhm: math.Abs(float64(sensitivity * e.StdUnc)), DegreesOfFreedom: finite(e.DoF),
	})
}

// addScatter adds the type A part, the sets brought through the method's
// equation.
func (m *model) addScatter(sensitivities []float64, lists ...[]float64) {
	if m.repeats < 2 {
		return
	}
	e := measure.Scatter(sensitivities, lists...)
	e.Value = m.resistance
	m.add(Scatter, "R", "Ω", e, 1)
}

// addDisplay adds the last digits of one voltage reading. The readings' last
// digits are taken as independent of each other: a pure offset would nearly
// cancel, rounding and non-linearity do not, and the accuracy does not say
// which it is.
func (m *model) addDisplay(meter Meter, source, name string, v, sensitivity float64) {
	e := display(meter.Counts, meter.ResolutionV)
	e.Value = v
	m.add(source, name, "V", e, sensitivity)
	m.display = math.Sqrt(measure.Square(m.display) + measure.Square(e.StdUnc*sensitivity))
}

// addLoad adds a resistor: its tolerance or measured uncertainty, and its
// heating where that is given. which is the load in words.
func (m *model) addLoad(t *Test, which, name string, ohm, sensitivity float64) {
	switch {
	case t.LoadUncertaintyOhm != nil:
		e := measure.Estimate{Value: ohm, StdUnc: *t.LoadUncertaintyOhm, DoF: math.Inf(1)}
		m.add(which+", as measured", name, "Ω", e, sensitivity)
	case t.LoadTolerancePct != nil:
		m.add("tolerance of "+which, name, "Ω", measure.Rectangular(ohm, ohm**t.LoadTolerancePct/100), sensitivity)
	default:
		m.add("tolerance of "+which+", assumed", name, "Ω", measure.Rectangular(ohm, ohm*usualTolerancePct/100), sensitivity)
	}
	if t.LoadTempcoPpmK != nil && t.LoadRiseK != nil {
		e := measure.Rectangular(0, ohm**t.LoadTempcoPpmK*1e-6**t.LoadRiseK)
		m.add("heating of "+which, "δ"+name, "Ω", e, sensitivity)
	}
}

func (m *model) addLead(t *Test, sensitivity float64) {
	if t.LeadUncertaintyOhm != nil {
		e := measure.Estimate{Value: t.LeadOhm, StdUnc: *t.LeadUncertaintyOhm, DoF: math.Inf(1)}
		m.add("leads of the load", "r_w", "Ω", e, sensitivity)
	}
}

// gain is the meter's percent of reading as a factor about 1.
func gain(meter Meter) measure.Estimate { return measure.Rectangular(1, meter.ReadingPct/100) }

// currentMeter is the current meter's accuracy, the usual one where none of it
// is given. Counts without a resolution count for nothing.
func currentMeter(t *Test) (pct, counts, resolutionA float64) {
	if t.CurrentPct == nil && t.CurrentResolutionA == nil {
		return usualCurrentPct, 0, 0
	}
	if t.CurrentPct != nil {
		pct = *t.CurrentPct
	}
	if t.CurrentCounts != nil {
		counts = *t.CurrentCounts
	}
	if t.CurrentResolutionA != nil {
		resolutionA = *t.CurrentResolutionA
	}
	return pct, counts, resolutionA
}

// order puts the larger of two loads first; the equation is the same either
// way, and the working reads better.
func (t *Test) order() {
	if t.Method == TwoLoads && t.Load1Ohm < t.Load2Ohm {
		t.Load1Ohm, t.Load2Ohm = t.Load2Ohm, t.Load1Ohm
		t.Loaded1V, t.Loaded2V = t.Loaded2V, t.Loaded1V
	}
}

func mean(readings []float64) float64 { return measure.Mean(readings).Value }
