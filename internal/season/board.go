package season

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/judge"
	"packwright/internal/order"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/stock"
	"packwright/internal/trend"
)

// BoardRequest is what a board is asked.
type BoardRequest struct {
	NowMS  int64  // unix ms
	Day    string // the day asked about, 2026-11-25; empty: the event's, or in 60 days where there is none to come
	Wanted int    // packs fit for competition then; 0: the team's setting
}

const (
	usualAheadDays = 60
	mostWanted     = 500
	lastMS         = 253402300799999 // the last millisecond of the year 9999
)

// Board is the fleet over the season; retired packs are left out. Errors are
// *problem.Error.
func (s *Season) Board(r BoardRequest) (Board, error) {
	team := s.fleet.Team()
	thenMS, err := r.fill(team, s.fleet.Clock())
	if err != nil {
		return Board{}, err
	}
	s.surveyAll(r.NowMS)
	b := Board{Rows: []BoardRow{}, Take: []Taken{}, Days: []BoardFind{}, Recycling: recycling}
	var plans []stock.Pack
	var packs []*pack
	for _, row := range s.fleet.OverviewWith(r.NowMS, s.doubts()).Packs {
		p := s.look(row.Code, r.NowMS)
		packs = append(packs, p)
		if row.Retired {
			continue
		}
		boardRow, plan := s.row(row, p, team, thenMS)
		b.Rows, plans = append(b.Rows, boardRow), append(plans, plan)
	}
	b.Take = s.take(b.Rows, plans, team, r.NowMS)
	if team.EventDate == s.fleet.Clock().Date(thenMS) {
		b.Event = team.EventName
	}
	for _, d := range s.survey.Days() {
		b.Days = append(b.Days, BoardFind{AtMS: d.AtMS, Finding: d.Finding, Packs: d.Packs})
	}
	b.Plan = stock.Compute(plans, stock.Question{
		NowMS: r.NowMS, ThenMS: thenMS, Wanted: r.Wanted, WantedPct: team.WantedPct, Price: team.PackPrice, Currency: team.Currency,
		DeliveryDays: team.DeliveryDays, NewFit: newFit(packs, team), RetestDays: team.RetestDays, Clock: s.fleet.Clock(),
	})
	return b, nil
}

// fill puts the usual number in place, and gives the moment asked about: noon of
// its day, or now where that is later.
func (r *BoardRequest) fill(team fleet.Team, clock place.Clock) (thenMS int64, err error) {
	if r.Wanted == 0 {
		r.Wanted = team.WantedPacks
	}
	if r.Wanted < 0 || r.Wanted > mostWanted {
		return 0, problem.Invalidf("wanted", "enter how many packs you need, such as 4", "%d is not a number of packs", r.Wanted)
	}
	if r.NowMS < 0 || r.NowMS > lastMS {
		return 0, problem.Invalidf("now_ms", "set the clock of the phone", "%d ms is no time between the years 1970 and 9999", r.NowMS)
	}
	over := func(ms int64) bool { return clock.DaysBetween(r.NowMS, ms) < 0 }
	if r.Day == "" {
		thenMS, ok := clock.Noon(team.EventDate)
		if !ok || over(thenMS) {
			thenMS = clock.Later(r.NowMS, usualAheadDays)
		}
		return max(thenMS, r.NowMS), nil
	}
	thenMS, ok := clock.Noon(r.Day)
	if !ok {
		return 0, problem.Invalidf("day", "write it like 2026-11-25", "%q is not a day", r.Day)
	}
	if over(thenMS) {
		return 0, problem.Invalidf("day", "choose today or a day to come", "%s is over", clock.Words(thenMS))
	}
	return max(thenMS, r.NowMS), nil
}

// row is a pack on the board, and as planning sees it.
func (s *Season) row(row fleet.Row, p *pack, team fleet.Team, thenMS int64) (BoardRow, stock.Pack) {
	limit := team.Limits.CompetitionOhm
	a := s.trend(p)
	care := s.care(p)
	report := s.reported(s.report(row.Code, p), care)
	var decision judge.Decision
	if p.latest != nil {
		decision = judge.Decide(p.latest.Result, team.Limits, nil)
	}
	then := p.fitThen(a, decision, row.Outcome, care.Lost != nil, limit, thenMS)
	b := BoardRow{
		Code: row.Code, Name: row.Name, Outcome: row.Outcome, Stand: standOf(row, care, team), TreatAs: row.TreatAs, Ohm: row.ResistanceOhm, PlusOhm: row.ExpandedOhm,
		Trend: trend.TooFew, FitThen: &then.p, Findings: []diagnose.Finding{}, Safety: []string{}, First: s.first(care),
	}
	b.Safety = append(b.Safety, care.Safety...)
	if care.Lost != nil {
		b.Lost = care.Lost.LostWords()
	}
	mended := care.MendedMS > 0
	switch {
	case mended:
		b.FitThen, then = nil, fit{0, true} // what it measured before says nothing now
	case !care.Stopped():
		b.Drive = p.drive(team, 100, care.Lost, false)
	}
	plan := stock.Pack{
		Code: row.Code, Name: cmp.Or(row.Name, row.Code), Outcome: string(row.Outcome), FitNow: row.Outcome == judge.Competition && care.Lost == nil,
		FitThen: then.p, FitThenKnown: then.known, DaysSinceTest: row.DaysSinceTest, Untested: row.TestedMS == nil,
		Held: care.Stopped() || care.Lost != nil, Rests: b.Stand == Reference,
	}
	if mended {
		plan.Mended = s.mended(care)
	}
	if plan.Rests || plan.Untested {
		b.FitThen = nil
	}
	if row.ResistanceOhm != nil && row.ExpandedOhm != nil && *row.ExpandedOhm > 0 {
		close := math.Abs(*row.ResistanceOhm-limit) / *row.ExpandedOhm
		plan.Closeness = &close
	}
	for _, f := range report.Findings {
		if f.Past {
			continue
		}
		b.Findings = append(b.Findings, f)
		if f.Confidence != diagnose.Plain {
			plan.Findings++
		}
	}
	if p.capacity != nil {
		b.CapacityPct = &p.capacity.SharePct
	}
	if a != nil {
		b.Trend, b.Crossing = a.Outcome, a.Forecast
		if a.Line != nil && a.Outcome != trend.Stepped {
			slope := 100 * a.Line.Slope * 30 / a.Line.CentreY
			b.SlopePctMonth = &slope
		}
		plan.Rising = slices.Contains([]trend.Outcome{trend.Rising, trend.Crossing, trend.BeyondHorizon}, a.Outcome)
		if a.Forecast != nil {
			plan.CrossingMS = a.Forecast.LikelyMS
		}
	}
	return b, plan
}

// standOf is where a pack stands. What keeps it from use comes first, also for
// the reference pack.
func standOf(row fleet.Row, care Care, team fleet.Team) Stand {
	switch {
	case row.Outcome == judge.SetAside || care.Stopped() || care.Lost != nil:
		return Stays
	case care.MendedMS > 0:
		return TestFirst
	case row.Code == team.ReferencePack:
		return Reference
	case row.Outcome == judge.Competition:
		return Goes
	case row.Outcome == judge.Practice:
		return Stays
	}
	return TestFirst
}

// take lists the packs that go, the lowest resistance first; plans are those of
// the rows.
func (s *Season) take(rows []BoardRow, plans []stock.Pack, team fleet.Team, nowMS int64) []Taken {
	var going []int
	for i := range rows {
		if rows[i].Stand == Goes {
			going = append(going, i)
		}
	}
	ohm := func(i int) float64 {
		if rows[i].Ohm == nil {
			return 0
		}
		return *rows[i].Ohm
	}
	order.Stable(going, func(a, b *int) int { return cmp.Compare(ohm(*a), ohm(*b)) })
	list := []Taken{}
	for _, i := range going {
		t := Taken{Code: rows[i].Code, Name: rows[i].Name}
		if d := plans[i].DaysSinceTest; d != nil && team.RetestDays > 0 && *d > team.RetestDays {
			t.But = "last test " + stock.Days(s.fleet.Clock().DaysBetween(nowMS-int64(*d*dayMS), nowMS)) + " ago"
		}
		list = append(list, t)
	}
	return list
}

// median is the median of a list, which it reorders; 0 of none.
func median(list []float64) float64 {
	n := len(list)
	if n == 0 {
		return 0
	}
	slices.Sort(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}
