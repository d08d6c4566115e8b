package trend

import (
	"math"
	"strconv"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// workingOf writes an analysis out, a line for each thing computed. Slopes are
// shown in milliohm per day.
func workingOf(a *Analysis, o *Options) []loadtest.Step {
	w := writer{steps: []loadtest.Step{}}
	w.comparison(a, o)
	if a.Line != nil {
		w.line(a)
	}
	if a.Chart != nil {
		w.chart(a.Chart)
	}
	if a.Forecast != nil {
		w.forecast(a)
	}
	return w.steps
}

type writer struct{ steps []loadtest.Step }

// add appends a step; kept out of line, as a phone downloads every copy.
//
//go:noinline
func (w *writer) add(label, formula, numbers, result string) {
	w.steps = append(w.steps, loadtest.Step{Label: label, Formula: formula, Numbers: numbers, Result: result})
}

func ohm(v float64) string    { return measure.ShowDigits(v, 4, "Ω") }
func perDay(v float64) string { return measure.ShowDigits(v*1000, 3, "mΩ/d") }
func days(v float64) string   { return measure.ShowDigits(v, 4, "d") }
func bare(v float64) string   { return measure.ShowDigits(v, 4, "") }
func whole(v int64) string    { return strconv.FormatInt(v, 10) }

// toward0 is the correction for continuity of S.
func toward0(s int64) string {
	switch {
	case s > 0:
		return " − 1"
	case s < 0:
		return " + 1"
	}
	return ""
}

// share writes a probability; beyond four digits nobody can vouch for one.
func share(p float64) string {
	switch {
	case p < 0.0001:
		return "below 0.01 %"
	case p > 0.9999:
		return "over 99.99 %"
	}
	return measure.ShowDigits(p*100, 3, "%")
}

func (w *writer) comparison(a *Analysis, o *Options) {
	s := &a.Series
	tests := 0
	for i := range s.Occasions {
		tests += len(s.Occasions[i].Tests)
	}
	w.add("comparable tests", "same kind, load ± 20 %, reading second ± 20 % (at least 0.5 s), pack full",
		strconv.Itoa(tests)+" of "+strconv.Itoa(tests+len(s.Aside)), counted(len(s.Occasions), "test day", "test days"))
	if o.To20C {
		w.add("brought to 20 °C", "R20 = R · exp(α · (T − 20 °C))", "α = "+bare(o.Tempco.PerK)+" 1/K ± "+bare(o.Tempco.PerKStdUnc)+" 1/K (standard)", "used instead of R")
	}
	if s.Weighted {
		w.add("weights, because the tests' uncertainties differ", "w ∝ 1 / (u² + s²), 1 to 4", "u of each test, s from day to day", "see the tests")
	}
}

func (w *writer) line(a *Analysis) {
	l, k := a.Line, a.Kendall
	c := normal95 * math.Sqrt(k.Variance)
	w.add("slopes of all pairs of test days", "N = Σ wᵢ · wⱼ", counted(l.Points, "test day", "test days"), whole(l.Pairs))
	w.add("slope of Theil and Sen", "b = median of (Rⱼ − Rᵢ) / (tⱼ − tᵢ)", whole(l.Pairs)+" slopes", perDay(l.Slope))
	w.add("rising less falling pairs (Mann, Kendall)", "S = Σ wᵢ · wⱼ · sgn(Rⱼ − Rᵢ)", whole(l.Pairs)+" pairs", whole(k.S)+", τ = "+bare(k.Tau))
	if k.Exact {
		w.add("chance of so large an S without a trend", "P = 2 · (orders with S ≥ |S|) / n!", "n = "+strconv.Itoa(l.Points), share(k.P))
	} else {
		w.add("the same as a normal deviate", "z = (S ∓ 1) / √var S", "("+whole(k.S)+toward0(k.S)+") / √"+bare(k.Variance), bare(k.Z))
		w.add("chance of so large an S without a trend", "P = 2 · (1 − Φ(|z|))", "z = "+bare(k.Z), share(k.P))
	}
	w.add("places of the 95 % interval's ends among the slopes", "(N − C) / 2 and (N + C) / 2 + 1, C = 1.96 · √var S", "C = 1.96 · √"+bare(k.Variance)+" = "+bare(c), bare((float64(l.Pairs)-c)/2)+" and "+bare((float64(l.Pairs)+c)/2+1))
	w.add("95 % interval of the slope", "the slopes there, or wider by what display and temperature leave open", "", perDay(l.SlopeLow)+" to "+perDay(l.SlopeHigh))
	w.add("standard uncertainty of the slope", "u(b) = (b_high − b_low) / (2 · 1.96)", "("+perDay(l.SlopeHigh)+" − "+perDay(l.SlopeLow)+") / 3.92", perDay(l.SlopeStdUnc))
	w.add("height of the line at its centre", "a = median of Rᵢ − b · (tᵢ − t_c)", "t_c = "+days(l.CentreX)+" after the first test", ohm(l.CentreY)+", u(a) = "+ohm(l.CentreUnc))
}

func (w *writer) chart(c *Chart) {
	w.add("scatter from one test day to the next", "s = mean moving range / 1.128, not below a test's own u", counted(c.Screened, "wild range", "wild ranges")+" left out", ohm(c.SigmaOhm))
	w.add("a change is sudden above", "3.267 · 1.128 · s, or 5 % of R", "3.267 · 1.128 · "+ohm(c.SigmaOhm), ohm(c.RangeLimitOhm))
	w.add("a test is off the line above", "2.66 · 1.128 · s, or 5 % of R", "2.66 · 1.128 · "+ohm(c.SigmaOhm), ohm(c.ValueLimitOhm))
}

func (w *writer) forecast(a *Analysis) {
	s, l, f := &a.Series, a.Line, a.Forecast
	last := s.lastDay()
	e := l.At(last)
	w.add("line at the latest test", "R(t) = a + b · (t − t_c)", ohm(l.CentreY)+" + "+perDay(l.Slope)+" · ("+days(last)+" − "+days(l.CentreX)+")", ohm(e.Value))
	w.add("its standard uncertainty", "u² = u(a)² + (t − t_c)² · u(b)²", "√(("+ohm(l.CentreUnc)+")² + ("+days(last-l.CentreX)+")² · ("+perDay(l.SlopeStdUnc)+")²)", ohm(e.StdUnc))
	w.add("probability of being above the limit there", "P = P(R(t) > limit), Student's t with n − 2", "limit "+ohm(f.LimitOhm)+", "+bare(e.DoF)+" degrees of freedom", share(f.ProbabilityNow))
	horizon := s.dayOf(f.HorizonMS)
	w.add("horizon", "t_h = latest + (latest − first), a year at most", days(last)+" + "+days(horizon-last), days(horizon))
	w.add("probability of having crossed by then", "the same at t_h", "", share(f.ProbabilityByHorizon))
	for _, d := range []struct {
		words string
		ms    *int64
	}{{"5 %", f.EarliestMS}, {"50 %", f.LikelyMS}, {"95 %", f.LatestMS}} {
		if d.ms != nil {
			w.add("day by which it has crossed with "+d.words, "P(R(t) > limit) = "+d.words+", solved for t", "", days(s.dayOf(*d.ms)))
		}
	}
	if f.CommonShiftDays != nil {
		w.add("what the set-up's own error moves every date by", "± 1.96 · u(common) / b", "1.96 · "+ohm(s.common)+" / "+perDay(l.Slope), "± "+days(*f.CommonShiftDays))
	}
}
