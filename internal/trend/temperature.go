package trend

import (
	"math"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Temperature says how resistance is brought to 20 °C.
type Temperature struct {
	PerK            float64 // 1/K: R falls by this share per kelvin, R ∝ exp(−PerK·T)
	PerKStdUnc      float64 // 1/K, standard uncertainty of PerK, the same for the whole series
	ThermometerUncK float64 // kelvin, standard uncertainty of each recorded temperature
}

// UsualTemperature is 2.6 % per kelvin, from the published equivalent-circuit
// values of a 6.5 Ah hybrid-car module at 1 and 26 °C (ratio 1.92). Between 26
// and 40 °C the same data give 1.75 %: the difference is taken as the half-width
// of a rectangular distribution, u = 0.0085/√3. For your packs measure it: one
// pack at three temperatures. That a hand's thermometer is good to 1 K is common
// practice, no source.
func UsualTemperature() Temperature {
	return Temperature{PerK: 0.026, PerKStdUnc: 0.0049, ThermometerUncK: 1}
}

const (
	referenceC = 20.0
	// The coefficient is known from 0 to 40 °C only.
	tempcoFromC, tempcoToC = 0.0, 40.0
)

// Check says what is wrong with a coefficient.
func (t Temperature) Check() error {
	if !(math.Abs(t.PerK) <= 0.2 && t.PerKStdUnc >= 0 && t.PerKStdUnc <= 0.2 && t.ThermometerUncK >= 0 && t.ThermometerUncK <= 20) {
		return problem.Invalidf("tempco", "give the share of R per kelvin, such as 0.026 ± 0.005, and the thermometer's in kelvin, such as 1",
			"a temperature coefficient of %s ± %s with a thermometer good to %s is not possible",
			measure.Show(t.PerK, "1/K"), measure.Show(t.PerKStdUnc, "1/K"), measure.Show(t.ThermometerUncK, "K"))
	}
	return nil
}

// Factor brings a resistance at a temperature in °C to 20 °C.
func (t Temperature) Factor(celsius float64) float64 {
	return math.Exp(t.PerK * (celsius - referenceC))
}

// tempcoRange says why a temperature cannot be corrected for, or nothing.
func (o *Options) tempcoRange(t *Test) string {
	if o.To20C && (*t.TemperatureC < tempcoFromC || *t.TemperatureC > tempcoToC) {
		return "at " + measure.Show(*t.TemperatureC, "°C") + " the correction to 20 °C is not known: it is for 0 to 40 °C"
	}
	return ""
}

// bring gives the resistance that is used, with its own standard uncertainty:
// the raw one, or R20 = R·exp(α·(T−20)) with the thermometer's part α·u(T). The
// part of α itself is common to all and goes to the line, see widenForTempco.
func (o *Options) bring(t *Test) (ohm, own float64) {
	if !o.To20C {
		return t.ResistanceOhm, t.OwnStdUncOhm
	}
	factor := o.Tempco.Factor(*t.TemperatureC)
	ohm = float64(t.ResistanceOhm * factor)
	return ohm, math.Hypot(t.OwnStdUncOhm*factor, ohm*o.Tempco.PerK*o.Tempco.ThermometerUncK)
}

// widenForTempco adds what the uncertainty of the coefficient does to the line.
// It is one unknown number for the whole series: where autumn's tests were warm
// and winter's cold, it looks like wear. The line is fitted again with the
// coefficient one standard uncertainty up, and the changes of slope and centre
// are added in quadrature (JCGM 100 5.1.4, a sensitivity found by experiment).
func widenForTempco(s *Series, line *Line, t Temperature) {
	x, y := s.days(), s.values()
	for i := range y {
		y[i] *= math.Exp(t.PerKStdUnc * (s.Occasions[i].meanC - referenceC))
	}
	slope := slopesOf(x, y, s.weights()).slope()
	residuals := make([]float64, len(x))
	for i := range x {
		residuals[i] = y[i] - slope*(x[i]-line.CentreX)
	}
	line.widen(slope-line.Slope, weightedMedian(residuals, s.weights())-line.CentreY)
}
