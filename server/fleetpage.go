package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/judge"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/season"
	"packwright/internal/stock"
	"packwright/internal/trend"
	"packwright/labels"
)

// fleetPage fills the report of the fleet.
func fleetPage(f *fleet.Fleet, b *season.Board) labels.FleetPage {
	team := f.Team()
	clock := f.Clock()
	then := clock.Words(b.Plan.ThenMS)
	page := labels.FleetPage{
		Title: "Packs for " + then, LimitOhm: team.Limits.CompetitionOhm, Worked: b.Plan.Rules, Recycling: b.Recycling,
		Answers: fleetAnswers(b, then, clock.Words),
	}
	if b.Event != "" {
		page.Title = "Packs for " + b.Event + ", " + then
	}
	profiles := map[string]fleet.Row{}
	for _, row := range f.Overview(0).Packs {
		profiles[row.Code] = row
	}
	for i := range b.Rows {
		if row := &b.Rows[i]; validOnLabel(row.Code) {
			page.Rows = append(page.Rows, fleetRow(row, profiles[row.Code], clock))
		}
	}
	return page
}

// fleetAnswers are what a mentor asks first. Every pack is named in the first of
// them or in the one about those that stay, as on the screen.
func fleetAnswers(b *season.Board, then string, onDay func(int64) string) []labels.FleetAnswer {
	p := &b.Plan
	take := labels.FleetAnswer{Question: "Which packs go to the next event?", Answer: "none"}
	var going []string
	for _, t := range b.Take {
		name := cmp.Or(t.Name, t.Code)
		if t.But != "" {
			name += " (" + t.But + ")"
		}
		going = append(going, name)
	}
	if len(going) > 0 {
		take.Answer = strings.Join(going, ", ")
	}
	expected := fmt.Sprintf("%s today; on %s about %s are fit (%d to %d with 95 %%).", counted(p.Now, "pack", "packs"), then, measure.ShowRough(p.Expected, ""), p.Low, p.High)
	if p.Wanted > 0 {
		expected += fmt.Sprintf(" Wanted: %d.", p.Wanted)
	}
	take.More = strings.TrimSpace(expected + " " + sentence(p.Doubtful))
	stands := func(r *season.BoardRow, stand season.Stand) bool { return r.Stand == stand }
	home := labels.FleetAnswer{Question: "Which packs stay at home, or are for practice only?"}
	var why []string
	for _, group := range []struct {
		words string
		is    func(*season.BoardRow) bool
	}{
		{"set aside", func(r *season.BoardRow) bool { return stands(r, season.Stays) && r.Outcome == judge.SetAside }},
		{"without a cell", func(r *season.BoardRow) bool {
			return stands(r, season.Stays) && r.Outcome != judge.SetAside && r.Lost != ""
		}},
		{"practice only", func(r *season.BoardRow) bool {
			return stands(r, season.Stays) && r.Outcome != judge.SetAside && r.Lost == ""
		}},
		{"to be tested first", func(r *season.BoardRow) bool { return stands(r, season.TestFirst) }},
		{"reference, rests", func(r *season.BoardRow) bool { return stands(r, season.Reference) }},
	} {
		if rows := rowsWith(b, group.is); len(rows) > 0 {
			why = append(why, group.words+": "+namesOf(rows))
			for _, r := range rows {
				if len(r.Safety) > 0 {
					why = slices.Insert(why, 0, cmp.Or(r.Name, r.Code)+", "+r.First)
				}
			}
		}
	}
	home.Answer = namesOf(rowsWith(b, func(r *season.BoardRow) bool { return stands(r, season.Stays) }))
	home.More = sentence(strings.Join(why, "; "))
	return []labels.FleetAnswer{
		take,
		buyAnswer(&p.Buy),
		causeAnswer(b, "Which lead or contact is to be crimped anew?", diagnose.ContactOrLead, onDay),
		causeAnswer(b, "Which pack lost a cell?", diagnose.LostCell, onDay),
		home,
		testAnswer(p, b.Days, onDay),
	}
}

// buyAnswer says how many to buy, by when and for how much.
func buyAnswer(buy *stock.Buy) labels.FleetAnswer {
	a := labels.FleetAnswer{Question: "How many to buy, and by when?", Answer: buy.Short, More: sentence(buy.Text)}
	if buy.Packs > 0 && !buy.TooLate && buy.Cost != nil {
		a.Answer += ", " + strings.TrimSpace(strconv.FormatFloat(*buy.Cost, 'f', 2, 64)+" "+buy.Currency)
	}
	a.More = strings.TrimSpace(a.More + " " + sentence(buy.TestFirst))
	return a
}

// causeAnswer names the packs with a cause that still stands, what to do about
// each, and for a single one what shows it.
func causeAnswer(b *season.Board, question string, cause diagnose.Cause, onDay func(int64) string) labels.FleetAnswer {
	a := labels.FleetAnswer{Question: question}
	var found []*diagnose.Finding
	rows := rowsWith(b, func(r *season.BoardRow) bool {
		for i := range r.Findings {
			if n := &r.Findings[i]; n.Cause == cause && !n.Past && len(r.Safety) == 0 {
				found = append(found, n)
				return true
			}
		}
		return false
	})
	a.Answer = namesOf(rows)
	var more []string
	for i, n := range found {
		switch same := i > 0 && n.Action == found[i-1].Action; {
		case len(found) == 1:
			more = append(more, sentence(n.Action)+" Since "+onDay(n.SinceMS)+": "+strings.Join(sentences(n.Evidence), " "))
		case n.Action != "" && !same:
			more = append(more, cmp.Or(rows[i].Name, rows[i].Code)+": "+sentence(n.Action))
		}
	}
	a.More = strings.TrimSpace(strings.Join(more, " "))
	return a
}

// testAnswer says what to test next, and on which days the set-up was off.
func testAnswer(p *stock.Plan, days []season.BoardFind, onDay func(int64) string) labels.FleetAnswer {
	a := labels.FleetAnswer{Question: "Which packs to test next?", Answer: "none"}
	var names []string
	for _, t := range p.Test[:p.Shown] {
		names = append(names, cmp.Or(t.Name, t.Code))
	}
	if len(names) > 0 {
		a.Answer = strings.Join(names, ", ")
		a.More = sentence(names[0] + ": " + strings.Join(p.Test[0].Why, ", "))
	}
	for _, d := range days[:min(len(days), 1)] {
		a.More = strings.TrimSpace(a.More + " Meter or load was off on " + onDay(d.AtMS) + ": those tests do not count against the packs.")
	}
	return a
}

func rowsWith(b *season.Board, wanted func(*season.BoardRow) bool) []season.BoardRow {
	var rows []season.BoardRow
	for i := range b.Rows {
		if wanted(&b.Rows[i]) {
			rows = append(rows, b.Rows[i])
		}
	}
	return rows
}

// fleetRow is one pack beside the others.
func fleetRow(r *season.BoardRow, profile fleet.Row, clock place.Clock) labels.FleetRow {
	row := labels.FleetRow{
		Pack:     labels.Pack{Code: r.Code, Name: r.Name, CapacityAh: profile.CapacityAh, InService: profile.InService},
		Decision: decisionWords(r.Outcome, r.TreatAs), Result: "not tested", Ohm: r.Ohm, PlusOhm: r.PlusOhm, Crossing: crossingWords(r, clock),
	}
	if r.Ohm != nil && r.PlusOhm != nil {
		row.Result = resistanceWords(*r.Ohm, *r.PlusOhm)
	} else if r.Ohm != nil {
		row.Result = measure.ShowDigits(*r.Ohm, 3, "Ω")
	}
	if r.Drive != nil {
		row.Margin = signed(r.Drive.MarginV.Value, 1) + " V"
	}
	if r.CapacityPct != nil {
		row.Capacity = measure.ShowPercent(*r.CapacityPct)
	}
	switch r.Trend {
	case trend.Rising, trend.Falling, trend.Crossing, trend.BeyondHorizon, trend.AlreadyAbove:
		if r.SlopePctMonth != nil {
			row.Change = signed(*r.SlopePctMonth, 1) + " % a month"
		}
	}
	row.But = r.Lost
	var titles []string
	if r.First != "" {
		titles = append(titles, r.First)
	}
	if r.Stand == season.Reference {
		row.But = "reference: rests"
	}
	for i := range r.Findings {
		titles = append(titles, r.Findings[i].Title)
	}
	row.LookAt = strings.Join(titles, "; ")
	return row
}

// crossingWords says when a pack will reach the limit, or why that is not known.
func crossingWords(r *season.BoardRow, clock place.Clock) string {
	switch r.Trend {
	case trend.TooFew:
		return "too few tests"
	case trend.NoTrend:
		return "steady"
	case trend.Falling:
		return "falling"
	case trend.AlreadyAbove:
		return "above it now"
	case trend.Stepped:
		return "jumped, no date"
	}
	month := func(ms int64) string {
		_, month, _ := strings.Cut(clock.Words(ms), " ")
		return month
	}
	switch c := r.Crossing; {
	case c == nil:
		return ""
	case c.LikelyMS != nil:
		return "about " + month(*c.LikelyMS)
	default:
		return "after " + month(c.HorizonMS)
	}
}

// signed writes a number with its sign, and a true minus.
func signed(v float64, decimals int) string {
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if v < 0 && strings.Trim(text, "0.") != "" {
		return "−" + text
	}
	return "+" + text
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
