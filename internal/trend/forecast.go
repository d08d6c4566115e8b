package trend

import "packwright/internal/measure"

// MostHorizonDays is the furthest that any forecast goes past the latest test.
const MostHorizonDays = 365.0

// The dates of a forecast are those by which the line has crossed the limit with
// these probabilities; between the first and the last lie 90 %.
const (
	earlyProbability = 0.05
	lateProbability  = 0.95
)

// Forecast is when the line crosses the limit, if tests go on as they were.
//
// Method. At any time t the height of the line is Student-distributed about
// Line.At(t) with n − 2 degrees of freedom, so the limit has been crossed by t
// with probability P(t) = P(height > limit). Solving P(t) = 5 % and 95 % gives
// the two ends of the interval: Fieller's theorem (1954) for the ratio (limit −
// centre)/slope, as in inverse regression. P never exceeds the probability that
// the slope is positive at all, so the late end may not exist, and that is said.
//
// Only a rising line still below the limit is given dates; the others have the
// probabilities alone.
//
// Horizon rule (own). Never further past the latest test than the tests span
// in time, and at most a year: as far ahead as one has looked back. A date beyond
// it is null.
//
// The forecast is of readings by the series' own set-up. What the set-up
// does to all readings alike, a load off by its tolerance, moves every date;
// CommonShiftDays says how far.
type Forecast struct {
	LimitOhm             float64  `json:"limit_ohm"`
	HorizonMS            int64    `json:"horizon_ms"`             // unix ms, the last moment a date is given for
	EarliestMS           *int64   `json:"earliest_ms"`            // unix ms, crossed by then with 5 %; null beyond the horizon
	LikelyMS             *int64   `json:"likely_ms"`              // with 50 %
	LatestMS             *int64   `json:"latest_ms"`              // with 95 %
	ProbabilityNow       float64  `json:"probability_now"`        // of being above at the latest test
	ProbabilityByHorizon float64  `json:"probability_by_horizon"` // of having crossed by then
	CommonShiftDays      *float64 `json:"common_shift_days"`      // ± day, 95 %, by the set-up's common uncertainty
}

// ProbabilityAbove is the probability that the line is above a limit in ohm at a
// time; ok is false before the first test, beyond the horizon, and where there is
// no line or it must not be carried on.
func (a *Analysis) ProbabilityAbove(limitOhm float64, atMS int64) (p float64, ok bool) {
	s := &a.Series
	if a.Line == nil || a.Outcome == Stepped || s.Family == InstrumentAC || atMS < s.StartMS || atMS > a.horizonMS() {
		return 0, false
	}
	return probabilityAbove(a.Line, limitOhm, s.dayOf(atMS)), true
}

func probabilityAbove(l *Line, limitOhm, day float64) float64 {
	return 1 - measure.ProbabilityAtMost(limitOhm, l.At(day))
}

// horizonMS applies the horizon rule; there is at least one occasion.
func (a *Analysis) horizonMS() int64 {
	s := &a.Series
	last := s.Occasions[len(s.Occasions)-1].AtMS
	return last + min(last-s.StartMS, int64(MostHorizonDays*dayMS))
}

// forecastOf gives the probabilities; the line is there.
func (a *Analysis) forecastOf(limitOhm float64) *Forecast {
	s := &a.Series
	f := &Forecast{LimitOhm: limitOhm, HorizonMS: a.horizonMS()}
	f.ProbabilityNow = probabilityAbove(a.Line, limitOhm, s.lastDay())
	f.ProbabilityByHorizon = max(f.ProbabilityNow, probabilityAbove(a.Line, limitOhm, s.dayOf(f.HorizonMS)))
	return f
}

// date adds the dates; the line rises and is below the limit at the latest test.
func (a *Analysis) date(f *Forecast) {
	s := &a.Series
	common := normal95 * s.common / a.Line.Slope
	f.CommonShiftDays = &common
	last, horizon := s.lastDay(), s.dayOf(f.HorizonMS)
	f.EarliestMS = a.crossing(f.LimitOhm, earlyProbability, last, horizon)
	f.LikelyMS = a.crossing(f.LimitOhm, 0.5, last, horizon)
	f.LatestMS = a.crossing(f.LimitOhm, lateProbability, last, horizon)
}

// crossing is the time, from day last to day horizon, by which the line has
// crossed with this probability, to the minute; nil where it is later. For a
// rising line that is below the limit at its centre the probability only grows
// with time, so halving finds the one place.
func (a *Analysis) crossing(limitOhm, probability, last, horizon float64) *int64 {
	reached := func(day float64) bool { return probabilityAbove(a.Line, limitOhm, day) >= probability }
	if !reached(horizon) {
		return nil
	}
	low, high := last, horizon
	if reached(low) {
		high = low
	}
	for high-low > 1.0/1440 {
		mid := (low + high) / 2
		if reached(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	ms := a.Series.msOf(high)
	return &ms
}
