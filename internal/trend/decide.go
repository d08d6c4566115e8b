package trend

import (
	"math"
	"strconv"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// The codes of warnings. They are part of the API.
const (
	TemperaturesDiffer = "temperatures-differ"  // by more than the noise, and not corrected
	SecondsUnrecorded  = "seconds-not-recorded" // taken to be alike
	ACSeries           = "ac-series"            // the limit is for load tests
	OutlierSeen        = "outlier"
	StepSeen           = "step"
	LatestOff          = "latest-off"
)

func (a *Analysis) warn(code, text, hint string) {
	a.Warnings = append(a.Warnings, loadtest.Warning{Code: code, Text: text, Hint: hint})
}

// warnOfSeries warns of what makes the series compare less well than it looks.
func (a *Analysis) warnOfSeries(o Options) {
	s := &a.Series
	if low, high := s.temperatures[0], s.temperatures[1]; !o.To20C && (high-low)*o.Tempco.PerK*100 > NoisePct {
		a.warn(TemperaturesDiffer, "the tests were made between "+measure.Show(low, "°C")+" and "+measure.Show(high, "°C")+", which alone changes the resistance by about "+measure.ShowPercent((high-low)*o.Tempco.PerK*100),
			"compare at 20 °C, or test at one temperature")
	}
	if s.Family == LoadTests && s.ReadAfterS == nil {
		a.warn(SecondsUnrecorded, "the reading second of these tests is not recorded: they are taken to be read alike", "record it from now on")
	}
	if s.Family == InstrumentAC && o.LimitOhm > 0 {
		a.warn(ACSeries, "a.c. readings lie below load tests: they show a trend, but not when the limit is crossed", "test with a load")
	}
}

// warnOfChanges puts the sudden changes into words.
func (a *Analysis) warnOfChanges(o Options) {
	if a.Chart == nil {
		return
	}
	for _, c := range a.Chart.Changes {
		level := a.Series.Occasions[c.Occasion].Ohm
		way, size := "up", pct(c.ChangeOhm, level)
		if c.ChangeOhm < 0 {
			way = "down"
		}
		switch test := "the test of " + o.Clock.Words(a.Series.Occasions[c.Occasion].AtMS); c.Kind {
		case Outlier:
			a.warn(OutlierSeen, test+" is off by "+size+" ("+way+") and the others are not; it stays in, and hardly moves the line", "look at how it was taken: contact, load, temperature")
		case Step:
			a.warn(StepSeen, "at "+test+" the resistance jumped "+way+" by "+size+" and stayed: cells do not wear like that", "check plug, fuse and crimps first; if something was repaired or changed, start a new baseline there")
		case Unconfirmed:
			a.warn(LatestOff, "the latest test is off by "+size+" ("+way+")", "wiggle the lead, look at plug and fuse, and test again")
		}
	}
}

// decide gives the outcome, its sentence and what is missing.
func (a *Analysis) decide(o Options) {
	s := &a.Series
	n := len(s.Occasions)
	forecasts := o.LimitOhm > 0 && s.Family != InstrumentAC
	switch {
	case a.Line == nil:
		a.tooFew(o, forecasts)
	case a.Chart.has(Step):
		a.Outcome = Stepped
		a.Text = "the resistance jumped and stayed, which is no wear: no date can be given"
		a.Missing = append(a.Missing, "find and mend the cause, start a new baseline, then "+counted(FewestOccasions, "test day", "test days"))
	case forecasts && a.aboveNow(o.LimitOhm):
		a.Outcome = AlreadyAbove
		a.Forecast = a.forecastOf(o.LimitOhm)
		a.Text = "the line through " + counted(n, "test day", "test days") + " is already above " + measure.Show(o.LimitOhm, "Ω")
	case !a.significant():
		a.noTrend(o, forecasts)
	case a.Line.Slope < 0:
		a.Outcome = Falling
		a.Text = "the resistance falls, by " + a.perMonth() + ": new cells do that in their first cycles, and so does a contact that was cleaned"
	case !forecasts:
		a.Outcome = Rising
		a.Text = "the resistance rises by " + a.perMonth()
	default:
		a.rising(o)
	}
}

// aboveNow: the line is above the limit at the latest occasion. Where the slope
// is not significant it is still the best guess of the height there.
func (a *Analysis) aboveNow(limitOhm float64) bool {
	return a.Line.At(a.Series.lastDay()).Value > limitOhm
}

// significant: the rise or fall is neither chance nor noise.
func (a *Analysis) significant() bool {
	return a.Kendall.P <= significance && math.Abs(a.changeOverSpan()) >= NoisePct/100*a.Line.CentreY
}

// changeOverSpan is what the line rises from the first to the latest occasion.
func (a *Analysis) changeOverSpan() float64 {
	return a.Line.Slope * a.Series.lastDay()
}

func (a *Analysis) tooFew(o Options, forecasts bool) {
	s := &a.Series
	n := len(s.Occasions)
	a.Outcome = TooFew
	a.Text = "too few comparable tests for a trend: " + counted(n, "test day", "test days") + " of the " + strconv.Itoa(FewestOccasions) + " it takes"
	if n > 0 && forecasts {
		if last := s.Occasions[n-1].Ohm; last > o.LimitOhm {
			a.Outcome = AlreadyAbove
			a.Text = "the latest test is already above " + measure.Show(o.LimitOhm, "Ω") + "; there are too few for a trend"
		}
	}
	a.Missing = append(a.Missing, counted(FewestOccasions-n, "more test", "more tests")+", each on a day of its own"+s.same())
	if len(s.Aside) > 0 {
		a.Missing = append(a.Missing, counted(len(s.Aside), "test does", "tests do")+" not compare: see the reasons")
	}
}

// same tells how to test so that it compares.
func (s *Series) same() string {
	text := ", the pack full"
	if s.LoadOhm > 0 {
		text += ", a load near " + measure.ShowDigits(s.LoadOhm, 3, "Ω")
	}
	if s.ReadAfterS != nil {
		text += ", read after " + measure.Show(*s.ReadAfterS, "s")
	}
	return text
}

func (a *Analysis) noTrend(o Options, forecasts bool) {
	a.Outcome = NoTrend
	a.Text = "no trend to speak of in " + counted(len(a.Series.Occasions), "test day", "test days")
	if a.Kendall.P <= significance {
		a.Text += ": the change of " + pct(a.changeOverSpan(), a.Line.CentreY) + " is within what one pack repeats"
	} else {
		a.Missing = append(a.Missing, "a slope beyond chance: its 95 % interval still holds zero, and more test days narrow it")
	}
	if forecasts {
		a.Forecast = a.forecastOf(o.LimitOhm)
	}
}

func (a *Analysis) rising(o Options) {
	f := a.forecastOf(o.LimitOhm)
	a.date(f)
	a.Forecast = f
	last := a.Series.msOf(a.Series.lastDay())
	ahead := func(ms int64) string { return strconv.Itoa(int(math.Round(float64(ms-last) / dayMS))) }
	limit := measure.Show(o.LimitOhm, "Ω")
	if f.LikelyMS == nil {
		a.Outcome = BeyondHorizon
		a.Text = "it rises by " + a.perMonth() + " and will probably not cross " + limit + " within " + ahead(f.HorizonMS) + " days of the latest test, as far as these tests can tell"
		if f.EarliestMS != nil {
			a.Text += " (chance " + measure.ShowPercent(f.ProbabilityByHorizon*100) + ")"
		}
		a.Missing = append(a.Missing, "a longer span of tests: they cannot be carried further than they reach back")
		return
	}
	a.Outcome = Crossing
	a.Text = "it rises by " + a.perMonth() + " and crosses " + limit + " about " + ahead(*f.LikelyMS) + " days after the latest test: "
	if f.LatestMS != nil {
		a.Text += "between " + ahead(*f.EarliestMS) + " and " + ahead(*f.LatestMS) + " days, with 90 % probability"
		return
	}
	if *f.EarliestMS-last < dayMS {
		a.Text += "perhaps already now, and within "
	} else {
		a.Text += "not before " + ahead(*f.EarliestMS) + " days (95 %), and within "
	}
	a.Text += ahead(f.HorizonMS) + " days with " + measure.ShowPercent(f.ProbabilityByHorizon*100) + " probability"
	a.Missing = append(a.Missing, "more test days, for a date by which it is nearly certain")
}

// perMonth is the slope in percent of the level per 30 days.
func (a *Analysis) perMonth() string {
	return pct(a.Line.Slope*30, a.Line.CentreY) + " in 30 days"
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
