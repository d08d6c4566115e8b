// Package season makes the health of packs and the board of a fleet out of what
// the fleet remembers: trend, findings, driving, charging, capacity, planning.
//
// Use this first: New on a fleet, kept as long as the fleet, then Health for one
// pack and Board for all. Of does it once, for a program that asks once. The
// answers depend on the set of entries, the time asked about and the fleet's clock,
// and on nothing else: what is kept between calls is worked out anew for every pack of which
// something changed.
//
// It has no formula of the trade of its own but those of fit.go; it brings together
// what packages trend, diagnose, drive, charging and stock say. A Season is not
// safe for use by several goroutines at once.
package season

import (
	"slices"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/trend"
)

// Season is a fleet with what was worked out from it.
type Season struct {
	fleet *fleet.Fleet
	packs map[string]*pack
	codes []string // of the packs that were surveyed, in order

	revisions []fleet.Revision // of the packs that were surveyed
	survey    *diagnose.Fleet
	reports   map[string]diagnose.Report
	doubted   map[string]fleet.Doubt // what doubts gave
}

// New is the season of a fleet, which may still grow.
func New(f *fleet.Fleet) *Season { return &Season{fleet: f, packs: map[string]*pack{}} }

// Of is the health of one pack, worked out once. Errors are *problem.Error.
func Of(f *fleet.Fleet, code string, nowMS int64) (Health, error) { return New(f).Health(code, nowMS) }

// BoardOf is the board of a fleet, worked out once. Errors are *problem.Error.
func BoardOf(f *fleet.Fleet, r BoardRequest) (Board, error) { return New(f).Board(r) }

// pack is what is kept of one pack, valid for its revision.
type pack struct {
	revision fleet.Revision
	record   fleet.Record
	history  diagnose.Pack
	sinceMS  int64 // unix ms of the latest repair that starts a new baseline; 0: none
	latest   *fleet.Test
	first    *fleet.Test
	provedMS int64 // unix ms of the latest test that can prove a repair; 0: none
	capacity *CapacityState

	spoilt    []diagnose.Spoilt
	changedMS int64 // unix ms from when on tests compare after the set-up changed; 0: it did not
	analysed  bool  // with these two
	analysis  *trend.Analysis
	problem   string // why there is no analysis
}

// look gives a pack as it is now; nil where there is none.
func (s *Season) look(code string, nowMS int64) *pack {
	revision := s.fleet.Revision(code, nowMS)
	if p := s.packs[code]; p != nil && p.revision == revision {
		return p
	}
	record, ok := s.fleet.Record(code, nowMS)
	if !ok {
		return nil
	}
	p := &pack{revision: revision, record: record}
	p.read()
	s.packs[code] = p
	return p
}

// trend is the analysis of a pack's tests; nil where there can be none. surveyAll
// comes first: what the set-up did to a pack's tests shows in its sisters' alone.
func (s *Season) trend(p *pack) *trend.Analysis {
	spoilt, changedMS := s.survey.SpoiltOf(p.history.Code)
	if p.analysed && changedMS == p.changedMS && slices.Equal(spoilt, p.spoilt) {
		return p.analysis
	}
	p.analysed, p.spoilt, p.changedMS, p.analysis, p.problem = true, spoilt, changedMS, nil, ""
	team := s.fleet.Team()
	a, err := p.analyse(trend.Options{LimitOhm: team.Limits.CompetitionOhm, To20C: team.To20C, Clock: s.fleet.Clock()})
	if err != nil {
		p.problem = err.Error()
		return nil
	}
	p.analysis = &a
	return p.analysis
}

// analyse is the trend since the latest new baseline, without the tests that
// diagnosis found spoilt.
func (p *pack) analyse(o trend.Options) (trend.Analysis, error) {
	why := make(map[string]string, len(p.spoilt))
	for _, t := range p.spoilt {
		why[t.Test] = t.Reason
	}
	tests := make([]trend.Test, len(p.history.Tests))
	for i := range tests {
		tests[i] = p.history.Tests[i].Test
		if tests[i].Excluded == "" {
			tests[i].Excluded = why[tests[i].ID]
		}
	}
	o.SinceMS = max(p.sinceMS, p.changedMS)
	return trend.Analyse(tests, o)
}

// Trend is the trend of a pack with its working, at 20 °C where the team or the
// caller asks for that. Errors are *problem.Error.
func (s *Season) Trend(code string, nowMS int64, to20C bool) (trend.Analysis, error) {
	s.surveyAll(nowMS)
	p := s.look(code, nowMS)
	if p == nil {
		return trend.Analysis{}, noPack(code)
	}
	s.trend(p)
	team := s.fleet.Team()
	return p.analyse(trend.Options{LimitOhm: team.Limits.CompetitionOhm, To20C: to20C || team.To20C, Working: true, Clock: s.fleet.Clock()})
}

// look over all packs, retired ones among them, where something changed.
func (s *Season) surveyAll(nowMS int64) {
	codes := s.fleet.SortedCodes()
	revisions := make([]fleet.Revision, len(codes))
	for i, code := range codes {
		s.look(code, nowMS)
		revisions[i] = s.packs[code].revision
	}
	if s.survey != nil && slices.Equal(codes, s.codes) && slices.Equal(revisions, s.revisions) {
		return
	}
	s.codes, s.revisions = codes, revisions
	histories := make([]diagnose.Pack, len(codes))
	for i, code := range codes {
		histories[i] = s.packs[code].history
	}
	s.survey = diagnose.Survey(histories, rules(s.fleet.Team(), s.fleet.Clock()))
	s.reports, s.doubted = map[string]diagnose.Report{}, nil
}

// report is what is found on a pack; surveyAll comes first.
func (s *Season) report(code string, p *pack) diagnose.Report {
	r, ok := s.reports[code]
	if !ok {
		r = s.survey.Examine(code, s.fleet.Team().Limits.CompetitionOhm, s.trend(p))
		s.reports[code] = r
	}
	return r
}

func rules(t fleet.Team, clock place.Clock) diagnose.Rules {
	return diagnose.Rules{
		RestMin: t.RestMin, CapacityGoodPct: t.CapacityGoodPct, CapacityEndPct: t.CapacityEndPct,
		SelfDischargePctMonth: t.SelfDischargePctMonth, ChargeFactor: t.ChargeFactor, To20C: t.To20C, ReferencePack: t.ReferencePack, Clock: clock,
	}
}

func noPack(code string) error {
	return problem.New(problem.NotFound, "add it, or sync if another phone has added it", "there is no pack %s", code)
}
