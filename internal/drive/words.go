package drive

import (
	"math"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

const source = "two published curves, of 6.5 Ah cells at 25 °C and of a 45 Ah module of ten cells with its charge falling (data files of a vehicle simulator by a US national laboratory); at full charge the team's own rest voltage"

// sureFrom is the probability from which a driver is not bothered with doubt:
// a margin of one expanded uncertainty.
const sureFrom = 0.975

// sentence is for a driver.
func (s *solution) sentence(a *Answer) string {
	amps, at := measure.Show(s.q.Robot.PeakA, "A"), ""
	if s.q.ChargePct < 100 {
		at = "With " + measure.Show(s.q.ChargePct, "%") + " of charge, at "
	} else {
		at = "At "
	}
	margin := volts(math.Abs(s.loadedV - s.q.Robot.BrownoutV))
	switch {
	case s.loadedV < 0:
		return at + amps + " it has no voltage left: it cannot drive this robot."
	case s.head <= 0:
		return at + amps + " it browns out: even at rest it has only " + volts(s.openV) + "."
	case s.loadedV <= s.q.Robot.BrownoutV:
		return at + amps + " it falls to " + volts(s.loadedV) + ": " + margin + " below brown-out, which comes at " + measure.ShowDigits(a.BrownoutA.Value, 2, "A") + "."
	case a.Holds < sureFrom:
		return at + amps + " it keeps " + volts(s.loadedV) + ": " + margin + " above brown-out, but that is not sure (" + measure.ShowPercent(100*a.Holds) + ")."
	}
	return at + amps + " it keeps " + volts(s.loadedV) + ": " + margin + " above brown-out."
}

// rough says how rough the open-circuit voltage is, and why.
func (s *solution) rough(a *Answer) string {
	plus := "± " + measure.ShowRough(*a.OpenV.Plus, "V") + ", 95 %"
	if s.q.ChargePct >= 100 {
		return volts(s.openV) + " is the team's own rest voltage of a full pack (" + plus + ": packs differ)"
	}
	return volts(s.openV) + " at rest is rough (" + plus + "): two published curves differ, and at one charge a pack reads higher after charging than after use"
}

// volts is for people: one decimal.
func volts(v float64) string {
	return measure.ShowReading(math.Abs(math.Round(v*10)/10), 0.1, "V")
}

//go:noinline
func (a *Answer) warn(code, text, hint string) {
	a.Warnings = append(a.Warnings, loadtest.Warning{Code: code, Text: text, Hint: hint})
}

func (a *Answer) warnOf(q Question) {
	if math.IsNaN(q.PackStdUnc) {
		a.warn(UncertaintyUnknown, "how sure the resistance is, is not known: it is left out of the chance of holding", "test with three readings")
	}
	if q.ChargePct < nearlyEmptyPct {
		a.warn(NearlyEmpty, "below "+measure.Show(nearlyEmptyPct, "%")+" of charge the weakest cell may be driven into reversal, which damages it", "change the pack and recharge it")
	}
	if low := cells.LostCellV(q.Cells, true); q.Robot.RestV < low {
		a.warn(RestVoltageLow, "the robot's rest voltage of "+measure.Show(q.Robot.RestV, "V")+" is low for a full pack, which has "+measure.Show(low, "V")+" or more", "measure a full, rested pack and set it")
	}
}

// working is the way to the answer, as on a blackboard.
func (s *solution) working(a *Answer) []loadtest.Step {
	r, openV := s.q.Robot, measure.ShowDigits(s.openV, 4, "V")
	amps, ohm, lowV := measure.Show(r.PeakA, "A"), measure.ShowDigits(s.ohm, 3, "Ω"), measure.Show(r.BrownoutV, "V")
	head := "(" + openV + " − " + lowV + ") / "
	u := func(parts ...measure.Component) string {
		return measure.ShowRough(measure.Combine(parts).StdUnc, "V")
	}
	steps := []loadtest.Step{
		{Label: "open-circuit voltage", Formula: s.openFormula(), Numbers: "rests at " + measure.Show(r.RestV, "V") + ", " + measure.Show(s.q.ChargePct, "%") + " of charge", Result: openV},
		{Label: "its standard uncertainty", Formula: "u² = u²(packs) + u²(curves) + u²(hysteresis)",
			Numbers: u(s.openParts[0]) + ", " + u(s.openParts[1]) + ", " + u(s.openParts[2]), Result: u(s.openParts...)},
		{Label: "resistance at this charge", Formula: "R = R_test · g", Numbers: measure.ShowDigits(s.q.PackOhm, 3, "Ω") + " · " + measure.ShowDigits(s.growth, 3, ""), Result: ohm},
		{Label: "voltage at the peak current", Formula: "V = V_oc − I · R", Numbers: openV + " − " + amps + " · " + ohm, Result: measure.ShowDigits(s.loadedV, 4, "V")},
	}
	if plus := a.LoadedV.Plus; plus != nil {
		_, k := measure.Expand(s.uncertainty)
		steps = append(steps,
			loadtest.Step{Label: "its standard uncertainty", Formula: "u² = u²(V_oc) + (I · u(R))²",
				Numbers: u(s.openParts...) + ", " + amps + " · " + measure.ShowRough(measure.Combine(s.ohmParts).StdUnc, "Ω"), Result: u(s.loadedParts()...)},
			loadtest.Step{Label: "expanded uncertainty, 95 %", Formula: "U = k · u", Numbers: measure.ShowDigits(k, 3, "") + " · " + u(s.loadedParts()...), Result: measure.ShowInterval(s.loadedV, *plus, "V")})
	}
	return append(steps,
		loadtest.Step{Label: "above brown-out", Formula: "V − V_min", Numbers: measure.ShowDigits(s.loadedV, 4, "V") + " − " + lowV, Result: measure.ShowDigits(s.loadedV-r.BrownoutV, 3, "V")},
		loadtest.Step{Label: "current at which it browns out", Formula: "I_b = (V_oc − V_min) / R", Numbers: head + ohm, Result: measure.ShowDigits(a.BrownoutA.Value, 3, "A")},
		loadtest.Step{Label: "resistance that this robot bears", Formula: "R_max = (V_oc − V_min) / I", Numbers: head + amps, Result: measure.ShowDigits(a.MaxOhm.Value, 3, "Ω")},
		loadtest.Step{Label: "chance of staying above brown-out", Formula: "P(V > V_min)", Numbers: "Student's t about V", Result: measure.ShowPercent(100 * a.Holds)})
}

// openFormula says where the voltage comes from.
func (s *solution) openFormula() string {
	if s.q.ChargePct >= 100 {
		return "V_oc = V_rest"
	}
	return "V_oc = the smaller of V_rest and the curves' mean"
}
