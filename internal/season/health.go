package season

import (
	"cmp"
	"math"
	"strconv"

	"packwright/internal/charging"
	"packwright/internal/diagnose"
	"packwright/internal/drive"
	"packwright/internal/fleet"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/order"
	"packwright/internal/trend"
)

// drivenPct are the states of charge, in percent, that a pack's page tells of.
var drivenPct = [...]float64{100, 80, 60, 40, 20}

// Health is what the history of a pack says; also of a retired one. nowMS is
// the present in unix ms. Errors are *problem.Error.
func (s *Season) Health(code string, nowMS int64) (Health, error) {
	s.surveyAll(nowMS)
	p := s.look(code, nowMS)
	if p == nil {
		return Health{}, noPack(code)
	}
	team := s.fleet.Team()
	care := s.care(p)
	a := s.trend(p)
	h := Health{
		Code: code, Trend: a, Problem: p.problem, Points: p.points(a, team.To20C), Band: bandOf(a),
		Baseline: p.baseline(a), Report: s.reported(s.report(code, p), care), Charging: s.charging(p, care, nowMS), Capacity: p.capacity,
		Drive: []drive.Answer{},
	}
	if a != nil {
		told, err := s.Trend(code, nowMS, false)
		if err != nil {
			return Health{}, err
		}
		if care.Stopped() {
			told.Missing = []string{} // more tests
		}
		h.Trend = &told
	}
	if care.Stopped() || care.MendedMS > 0 {
		return h, nil // nobody drives with it, or what it measured before says nothing now
	}
	for _, pct := range drivenPct {
		if d := p.drive(team, pct, care.Lost, true); d != nil {
			h.Drive = append(h.Drive, *d)
		}
	}
	return h, nil
}

// points are the tests that have a value and a time, by time.
func (p *pack) points(a *trend.Analysis, to20C bool) []Point {
	list := make([]Point, 0, len(p.record.Tests))
	place := map[string]int{} // in list
	for i := range p.record.Tests {
		t := &p.record.Tests[i]
		if t.Result == nil || t.ClockOff {
			continue
		}
		test := &p.history.Tests[i]
		pt := Point{Test: t.Entry, AtMS: t.AtMS, Ohm: t.Result.ResistanceOhm, PlusOhm: t.Result.ExpandedUncertaintyOhm, Reason: test.Excluded}
		if t.Result.BoundOnly && t.Result.UpperBoundOhm != nil {
			pt.Ohm, pt.PlusOhm = *t.Result.UpperBoundOhm, 0
		}
		pt.UsedOhm = pt.Ohm
		if to20C && test.TemperatureC != nil {
			pt.UsedOhm *= trend.UsualTemperature().Factor(*test.TemperatureC)
		}
		list = append(list, pt)
	}
	order.Stable(list, func(a, b *Point) int { return cmp.Or(cmp.Compare(a.AtMS, b.AtMS), cmp.Compare(a.Test, b.Test)) })
	for i := range list {
		place[list[i].Test] = i
	}
	if a == nil {
		return list
	}
	for _, aside := range a.Series.Aside {
		if i, ok := place[aside.Test]; ok {
			list[i].Reason, list[i].UsedOhm = aside.Reason, list[i].Ohm
		}
	}
	for _, oc := range a.Series.Occasions {
		for _, id := range oc.Tests {
			if i, ok := place[id]; ok {
				list[i].Used, list[i].Reason = true, ""
			}
		}
	}
	if a.Chart != nil {
		for _, c := range a.Chart.Changes {
			for _, id := range a.Series.Occasions[c.Occasion].Tests {
				if i, ok := place[id]; ok {
					list[i].Flag = string(c.Kind)
				}
			}
		}
	}
	return list
}

// firstTests is how many tests make a baseline.
const firstTests = 3

// baseline is the pack when new or after its latest repair; nil before the first
// comparable test.
func (p *pack) baseline(a *trend.Analysis) *Baseline {
	if a == nil || len(a.Series.Occasions) == 0 {
		return nil
	}
	b := &Baseline{SinceMS: a.Series.StartMS, Tests: []string{}}
	var values []float64
	occasions := a.Series.Occasions
	after := 0 // the first occasion that is no part of it
	for i := 0; i < len(occasions) && len(values) < firstTests; i++ {
		for _, id := range occasions[i].Tests {
			if len(values) < firstTests {
				b.Tests = append(b.Tests, id)
				values = append(values, occasions[i].Ohm)
			}
		}
		after = i + 1
	}
	b.Ohm = median(values)
	b.Text = measure.ShowDigits(b.Ohm, 3, "Ω") + ", median of the first " + counted(len(values), "comparable test", "comparable tests")
	switch {
	case p.changedMS > p.sinceMS:
		b.SinceMS = p.changedMS
		b.Text += " since the set-up changed"
	case p.sinceMS > 0:
		b.SinceMS = p.sinceMS
		b.Text += " since the repair"
	}
	if after < len(occasions) {
		change := 100 * (occasions[len(occasions)-1].Ohm/b.Ohm - 1)
		b.ChangePct = &change
		way := " above it"
		if change < 0 {
			way = " below it"
		}
		b.Text += "; the latest is " + measure.ShowPercent(math.Abs(change)) + way
	}
	return b
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// CellLost is the code of the warning that a pack is worked out for the cells that
// are left. It is part of the API.
const CellLost = "cell-lost"

// drive is what the latest load test of the full pack means on the field; nil
// where there is none. A pack that lost a cell has the voltage of the others: with
// all of them it would look like the best of the fleet, since a short takes the
// cell's resistance away as well.
func (p *pack) drive(team fleet.Team, pct float64, found *diagnose.Finding, working bool) *drive.Answer {
	t := p.latest
	if t == nil {
		return nil
	}
	n, robot, lost := p.history.Cells, team.Limits.Robot, 0
	if found != nil {
		lost = found.Cells
	}
	if lost > 0 && n > lost {
		robot.RestV *= float64(n-lost) / float64(n)
		n -= lost
	}
	answer, err := drive.Compute(drive.Question{
		PackOhm: t.Result.ResistanceOhm, PackStdUnc: t.Result.StandardUncertaintyOhm, DoF: t.Result.DegreesOfFreedom,
		Cells: n, ChargePct: pct, Robot: robot, Working: working,
	})
	if err != nil {
		return nil
	}
	if lost > 0 {
		answer.Warnings = append(answer.Warnings, loadtest.Warning{
			Code: CellLost, Text: found.LostWords() + ": this is for the " + counted(n, "cell that is", "cells that are") + " left", Hint: "do not drive with it; a cell that is reversed gases and gets hot",
		})
	}
	return &answer
}

// Latest is the result of a pack's latest load test or d.c. reading that counts;
// nil where there is none, or no such pack.
func (s *Season) Latest(code string) *loadtest.Result {
	record, _ := s.fleet.Record(code, 0)
	p := &pack{record: record}
	p.read()
	if p.latest == nil {
		return nil
	}
	return p.latest.Result
}

// charging is what the pack's charges come to.
func (s *Season) charging(p *pack, care Care, nowMS int64) charging.Status {
	team := s.fleet.Team()
	var charges []charging.Charge
	for _, c := range p.record.Charges {
		if !c.Voided {
			charges = append(charges, charging.Charge{
				Entry: c.Entry, StartedMS: c.StartedMS, EndedMS: c.EndedMS, Purpose: string(c.Purpose),
				CurrentA: c.CurrentA, PutInAh: c.PutInAh, MissingAh: c.MissingAh, Ended: string(c.Ended),
			})
		}
	}
	var tested, checked *int64
	if p.latest != nil && !p.latest.ClockOff {
		tested = &p.latest.AtMS
	}
	if p.capacity != nil {
		checked = &p.capacity.AtMS
	}
	status := charging.Summarise(charges, p.record.Profile.CapacityAh, tested, checked, charging.Rules{
		ChargeFactor: team.ChargeFactor, SelfDischargePctMonth: team.SelfDischargePctMonth,
		TopUpDays: team.TopUpDays, ConditionDays: team.ConditionDays, RetestDays: team.RetestDays, Clock: s.fleet.Clock(),
		Nothing: care.nothingDue(),
	}, nowMS)
	s.dueFirst(&status, care, nowMS)
	return status
}

// Calendar is what is due for the packs in service, as a calendar file (RFC 5545).
// Empty where nothing is.
func (s *Season) Calendar(nowMS int64) string {
	var items []charging.CalendarItem
	s.surveyAll(nowMS)
	for _, code := range s.fleet.SortedCodes() {
		p := s.look(code, nowMS)
		if p.record.Profile.Retired {
			continue
		}
		items = append(items, charging.Items(code, cmp.Or(p.record.Profile.Name, code), s.charging(p, s.care(p), nowMS).Due, nowMS)...)
	}
	return charging.Calendar(items, nowMS, s.fleet.Clock())
}
