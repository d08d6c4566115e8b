package season

import (
	"math"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/judge"
	"packwright/internal/measure"
	"packwright/internal/trend"
)

// fit is the probability that a pack's resistance is within the competition
// limit.
type fit struct {
	p     float64
	known bool // from a forecast of that day, or because no forecast is needed
}

// fitThen is the probability of being fit at a time.
//
// A pack that a safety finding has set aside, or that plainly or likely lost a
// cell, is not counted on. Otherwise it is the probability that the pack's line
// is at or below the limit, wherever trend allows the line to be carried. The line
// lacks what all tests share, a load off by its tolerance, so the median of that is
// added to its uncertainty: today's decision has it in it too. Beyond the horizon
// the last probability within it is carried over, and without a line that of the
// latest decision. A pack that no load test has shown within the limit counts for
// nothing.
func (p *pack) fitThen(a *trend.Analysis, d judge.Decision, outcome judge.Outcome, lost bool, limitOhm float64, thenMS int64) fit {
	if outcome == judge.SetAside || outcome == judge.Untested || lost {
		return fit{0, true}
	}
	now := 0.0
	if d.ProbabilityWithinLimit != nil {
		now = *d.ProbabilityWithinLimit
	} else if outcome == judge.Competition { // an upper bound within the limit
		now = 1
	}
	if a == nil {
		return fit{now, false}
	}
	if within, ok := p.within(a, limitOhm, thenMS); ok {
		return fit{within, true}
	}
	if f := a.Forecast; f != nil && thenMS > f.HorizonMS {
		if within, ok := p.within(a, limitOhm, f.HorizonMS); ok {
			return fit{min(now, within), false}
		}
	}
	return fit{now, false}
}

// within is the probability that the line, with what the set-up is off, is at or
// below the limit.
func (p *pack) within(a *trend.Analysis, limitOhm float64, atMS int64) (probability float64, ok bool) {
	if _, ok := a.ProbabilityAbove(limitOhm, atMS); !ok {
		return 0, false
	}
	e := a.Line.At(float64(atMS-a.Series.StartMS) / dayMS)
	e.StdUnc = math.Hypot(e.StdUnc, p.commonOhm(a))
	return measure.ProbabilityAtMost(limitOhm, e), true
}

// commonOhm is the median standard uncertainty that the tests of the series
// share.
func (p *pack) commonOhm(a *trend.Analysis) float64 {
	in := map[string]bool{}
	for i := range a.Series.Occasions {
		for _, id := range a.Series.Occasions[i].Tests {
			in[id] = true
		}
	}
	var list []float64
	for i := range p.history.Tests {
		if t := &p.history.Tests[i]; in[t.ID] {
			list = append(list, t.CommonStdUncOhm)
		}
	}
	return median(list)
}

// heldBack: a finding is sure enough, and still holds.
func heldBack(f *diagnose.Finding) bool { return !f.Past && f.Confidence != diagnose.Possible }

// newFit is the probability that a new pack is fit: the share of the team's packs
// whose first load test was within the limit, together with ten imagined ones of
// which nine were (own rule, no source), so that two packs do not say 0 or 100 %.
func newFit(packs []*pack, team fleet.Team) float64 {
	const imagined, imaginedFit = 10, 9
	n, fit := imagined, imaginedFit
	for _, p := range packs {
		if p.first != nil {
			n++
			if p.first.Result.ResistanceOhm <= team.Limits.CompetitionOhm {
				fit++
			}
		}
	}
	return float64(fit) / float64(n)
}
