package season

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/trend"
)

// wearing is a pack that rises by 0.0005 Ω a day from 0.07 Ω over 50 days: it
// crosses 0.1 Ω on day 61.
func wearing(t *testing.T) *diary {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	for i := range 11 {
		day := float64(1 + 5*i)
		d.test(day, packA, 0.07+0.0005*(day-1)+[]float64{0.0004, -0.0003, 0.0001}[i%3])
	}
	return d
}

// dateOf writes a day after day0.
func dateOf(day float64) string { return place.Clock(nil).Date(int64(day0 + day*dayMS)) }

func fitOf(b Board) float64 { return *b.Rows[0].FitThen }

func TestFitThen(t *testing.T) {
	d := wearing(t)
	at := func(day float64) BoardRequest { return BoardRequest{Day: dateOf(day)} }
	soon, crossing, late := d.board(52, at(53)), d.board(52, at(61)), d.board(52, at(75))
	if s := soon.Rows[0]; s.Trend != trend.Crossing || s.Outcome != judge.Competition || fitOf(soon) < 0.99 || len(soon.Plan.Unknown) != 0 || math.Abs(*s.SlopePctMonth-0.015/0.083*100) > 0.5 {
		t.Errorf("soon: %s", text(t, &s))
	}
	if p := fitOf(crossing); p < 0.2 || p > 0.8 {
		t.Errorf("on the day of crossing: %v", p)
	}
	if p := fitOf(late); p > 0.02 || len(late.Plan.Unknown) != 0 {
		t.Errorf("after it: %v", p)
	}
	// The probability is that of the line with what the load is off in it: at
	// ± 0.005 Ω of 2.5 Ω about 0.2 % of R.
	a := d.health(packA, 52).Trend
	above, ok := a.ProbabilityAbove(0.1, day0+58*dayMS)
	e := a.Line.At(57)
	e.StdUnc = math.Hypot(e.StdUnc, 0.0899*0.005/2.5)
	if p := fitOf(d.board(52, at(58))); !ok || math.Abs(p-measure.ProbabilityAtMost(0.1, e)) > 0.01 || math.Abs(p-(1-above)) > 0.05 {
		t.Errorf("%v, without the load's part %v", p, 1-above)
	}

	// Beyond the horizon, 50 days after the latest test, what holds there counts
	// and the doubt is said.
	if far := d.board(52, at(400)); fitOf(far) > 0.02 || len(far.Plan.Unknown) != 1 {
		t.Errorf("beyond the horizon: %v, unknown %v", fitOf(far), far.Plan.Unknown)
	}

	// A safety finding or a jump leave no forecast.
	d.write(52.5, journal.Inspected, packA, `{"finding":"swollen"}`)
	if unsafe := d.board(53, at(54)); fitOf(unsafe) != 0 || unsafe.Plan.Now != 0 || len(unsafe.Plan.Unknown) != 0 {
		t.Errorf("swollen: %s", text(t, &unsafe.Rows[0]))
	}
}

func TestFitThenWithoutForecast(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	b := d.board(1, BoardRequest{})
	if b.Rows[0].FitThen != nil || b.Rows[0].Stand != TestFirst || b.Plan.Expected != 0 || b.Plan.Test[0].Why[0] != "it has no usable test yet" {
		t.Errorf("untested: %s", text(t, &b))
	}
	d.write(1, journal.DirectReading, packA, `{"method":"direct-ac","resistance_ohm":[0.05],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"charge":"full"}`)
	if b = d.board(1, BoardRequest{}); fitOf(b) != 0 || b.Rows[0].Drive != nil {
		t.Errorf("an a.c. reading shows no pack fit: %s", text(t, &b.Rows[0]))
	}
	d.test(1, packA, 0.08)
	if b = d.board(2, BoardRequest{}); fitOf(b) < 0.99 || len(b.Plan.Unknown) != 1 || b.Plan.Unknown[0] != "Heron 1" || b.Rows[0].Drive == nil || b.Plan.Now != 1 {
		t.Errorf("one test: %s", text(t, &b))
	}
	d.test(3, packA, 0.2)
	if b = d.board(4, BoardRequest{}); fitOf(b) > 1e-6 || b.Plan.Now != 0 {
		t.Errorf("above the limit: %s", text(t, &b.Rows[0]))
	}
}

// A pack that has plainly or likely lost a cell is not counted on, whatever its
// resistance.
func TestLostCellCountsForNothing(t *testing.T) {
	found := func(c diagnose.Confidence, past bool) diagnose.Report {
		return diagnose.Report{Findings: []diagnose.Finding{{Cause: diagnose.AgeingCells, Confidence: diagnose.Plain}, {Cause: diagnose.LostCell, Cells: 1, Confidence: c, Past: past}}}
	}
	for _, c := range []struct {
		report diagnose.Report
		lost   bool
	}{{found(diagnose.Plain, false), true}, {found(diagnose.Likely, false), true}, {found(diagnose.Possible, false), false}, {found(diagnose.Plain, true), false}, {diagnose.Report{}, false}} {
		if slices.ContainsFunc(c.report.Findings, func(f diagnose.Finding) bool { return f.Cause == diagnose.LostCell && heldBack(&f) }) != c.lost {
			t.Errorf("%+v: %t", c.report, !c.lost)
		}
	}
	p := &pack{}
	good := 0.99
	d := judge.Decision{ProbabilityWithinLimit: &good}
	if f := p.fitThen(nil, d, judge.Competition, true, 0.1, day0); f != (fit{0, true}) {
		t.Errorf("lost: %+v", f)
	}
	if f := p.fitThen(nil, d, judge.Competition, false, 0.1, day0); f != (fit{0.99, false}) {
		t.Errorf("kept: %+v", f)
	}
	if f := p.fitThen(nil, judge.Decision{}, judge.Competition, false, 0.1, day0); f != (fit{1, false}) {
		t.Errorf("a bound within the limit: %+v", f)
	}
}

// Every pack stands somewhere. The reference pack stays at home and counts for
// nothing; of those that go, one not tested for longer than the team wants says so.
func TestStands(t *testing.T) {
	d := newDiary(t)
	packs := codes(t, 6)
	for i, name := range []string{"Rested", "Good", "Better", "Worn", "Close", "New"} {
		d.add(0, packs[i], name)
	}
	for i, ohm := range []float64{0.05, 0.08, 0.07, 0.14, 0.1} {
		d.test(1, packs[i], ohm)
	}
	d.test(10, packs[1], 0.08)
	d.write(10, journal.TeamChanged, "", fmt.Sprintf(`{"reference_pack":%q,"retest_days":7,"event_name":"Cup","event_date":%q,"wanted_packs":3}`, packs[0], dateOf(20)))
	stands := func(b Board) string {
		text := ""
		for _, r := range b.Rows {
			text += r.Name + " " + string(r.Stand) + "; "
		}
		for _, p := range b.Take {
			text += p.Name + " (" + p.But + ") "
		}
		return text
	}
	b := d.board(12, BoardRequest{})
	const want = "New test-first; Worn stays; Better goes; Close test-first; Good goes; Rested reference; Better (last test 11 days ago) Good () "
	if got := stands(b); !sameWords(got, want) {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
	if b.Plan.Now != 2 || b.Plan.Wanted != 3 || b.Event != "Cup" || !strings.Contains(strings.Join(b.Plan.Rules, " "), "reference pack (Rested) rests") {
		t.Errorf("%d now, %d wanted for %q; %q", b.Plan.Now, b.Plan.Wanted, b.Event, b.Plan.Rules)
	}
	if other := d.board(12, BoardRequest{Day: dateOf(21)}); other.Event != "" {
		t.Errorf("%q on another day", other.Event)
	}
	for _, r := range b.Rows {
		if counted := r.FitThen != nil; counted != (r.Name != "New" && r.Name != "Rested") {
			t.Errorf("%s is counted: %t", r.Name, counted)
		}
	}
	// Without a reference pack the same one goes.
	d.write(13, journal.TeamChanged, "", `{"reference_pack":""}`)
	if b := d.board(13, BoardRequest{}); b.Plan.Now != 3 || b.Take[0].Name != "Rested" {
		t.Errorf("%s", stands(b))
	}
	// What is not safe stays, whatever it is kept for.
	d.write(14, journal.TeamChanged, "", fmt.Sprintf(`{"reference_pack":%q}`, packs[0]))
	d.write(14, journal.Inspected, packs[0], `{"finding":"swollen"}`)
	if b := d.board(14, BoardRequest{}); !strings.Contains(stands(b), "Rested stays") {
		t.Errorf("%s", stands(b))
	}
}

// sameWords: the same parts in any order of the rows, and in order after them.
func sameWords(a, b string) bool {
	parts := func(s string) []string {
		list := strings.Split(s, "; ")
		slices.Sort(list)
		return list
	}
	return slices.Equal(parts(a), parts(b))
}

func TestBoardRequest(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	d.add(0, packB, "Heron 2")
	d.test(1, packA, 0.08)
	d.test(1, packB, 0.08)
	d.write(2, journal.ProfileChanged, packB, `{"retired":true,"retired_why":"old"}`)
	b := d.board(3, BoardRequest{})
	if b.Plan.ThenMS != day0+63*dayMS || len(b.Rows) != 1 || b.Rows[0].Code != packA || len(b.Plan.Shares) != 2 {
		t.Errorf("%s", text(t, &b))
	}
	if h := d.health(packB, 3); len(h.Points) != 1 { // kept in health
		t.Errorf("retired: %s", text(t, &h))
	}
	// 2026-10-01 12:00 UTC is day 30, by date -u.
	d.write(4, journal.TeamChanged, "", `{"event_date":"2026-10-01","wanted_packs":7,"pack_price":40,"currency":"coins"}`)
	if b = d.board(5, BoardRequest{}); b.Plan.ThenMS != day0+30*dayMS || b.Plan.Buy.Cost == nil || b.Plan.Buy.Currency != "coins" {
		t.Errorf("for the event: %s", text(t, &b.Plan))
	}
	if b = d.board(30.4, BoardRequest{}); b.Plan.ThenMS != int64(day0+30.4*dayMS) {
		t.Errorf("on its afternoon: %d", b.Plan.ThenMS)
	}
	if b = d.board(30.5, BoardRequest{}); b.Plan.ThenMS != int64(day0+90.5*dayMS) {
		t.Errorf("after it: %d", b.Plan.ThenMS)
	}
	few, many := d.board(5, BoardRequest{Wanted: 1}), d.board(5, BoardRequest{Wanted: 7})
	if few.Plan.SurePct < 90 || many.Plan.SurePct != 0 || text(t, &many) != text(t, ptr(d.board(5, BoardRequest{}))) {
		t.Errorf("sure of 1: %v, of 7: %v", few.Plan.SurePct, many.Plan.SurePct)
	}
	for _, c := range []struct {
		r     BoardRequest
		field string
	}{
		{BoardRequest{NowMS: day0, Day: dateOf(-1)}, "day"}, {BoardRequest{NowMS: day0, Day: "tomorrow"}, "day"}, {BoardRequest{NowMS: lastMS, Day: "10000-01-01"}, "day"},
		{BoardRequest{NowMS: day0, Wanted: -1}, "wanted"}, {BoardRequest{NowMS: day0, Wanted: mostWanted + 1}, "wanted"}, {BoardRequest{NowMS: -1}, "now_ms"},
	} {
		_, err := BoardOf(d.fleet, c.r)
		if p, ok := problem.As(err); !ok || p.Field != c.field {
			t.Errorf("%+v: %v", c.r, err)
		}
	}
}

func ptr[T any](v T) *T { return &v }

// The share of first tests within the limit, with nine of ten imagined ones.
func TestNewFit(t *testing.T) {
	d := newDiary(t)
	packs := codes(t, 4)
	for i, code := range packs {
		d.add(0, code, fmt.Sprintf("Heron %d", i))
	}
	s := New(d.fleet)
	ask := func() float64 {
		s.surveyAll(day0 + 10*dayMS)
		var list []*pack
		for _, code := range packs {
			list = append(list, s.look(code, day0+10*dayMS))
		}
		return newFit(list, d.fleet.Team())
	}
	if p := ask(); p != 0.9 {
		t.Errorf("no test: %v", p)
	}
	d.test(1, packs[0], 0.08)
	d.test(2, packs[0], 0.2) // later ones do not count
	d.test(1, packs[1], 0.15)
	if p := ask(); p != 10.0/12 {
		t.Errorf("one of two: %v", p)
	}
}
