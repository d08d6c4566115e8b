package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/season"
	"packwright/labels"
)

// The choices for each report, read as those of the other papers. What is said
// about the days ahead depends on the day it is asked.
type (
	packreportChoices struct {
		Pack  []string `placeholder:"CODE" help:"Only these packs (all in service)."`
		Paper string   `default:"A4" placeholder:"A4|Letter" help:"Paper size (${default})."`
		Date  string   `placeholder:"DATE" help:"Day to reckon from (today)."`
		clock `kong:"-"`
	}
	fleetreportChoices struct {
		Wanted int    `placeholder:"N" help:"Packs wanted fit (the team's setting)."`
		Day    string `placeholder:"DATE" help:"Day they are wanted (the event's, or in 60 days)."`
		Paper  string `default:"A4" placeholder:"A4|Letter" help:"Paper size (${default})."`
		Date   string `placeholder:"DATE" help:"Day to reckon from (today)."`
		clock  `kong:"-"`
	}
)

// dated are choices whose paper depends on the day.
type dated interface{ setNow(now time.Time) }

// clock is the time at which a paper is asked for.
type clock struct{ now time.Time }

func (c *clock) setNow(now time.Time) { c.now = now }

// day gives the moment to reckon from: now, or noon of another day.
func (c *clock) day(text string) (time.Time, error) {
	if text == "" {
		return c.now, nil
	}
	return readDay("date", text, c.now.Location())
}

func readDay(flag, text string, zone *time.Location) (time.Time, error) {
	ms, ok := place.Of(zone).Noon(text)
	noon := time.UnixMilli(ms).In(zone)
	if !ok || noon.Year() < 1980 || noon.Year() > 9000 {
		return time.Time{}, problem.Invalidf(flag, "write it like 2026-11-25", "%q is not a day", text)
	}
	return noon, nil
}

func (o *packreportChoices) print(w io.Writer, f *fleet.Fleet, _ string, warn paperNotes) error {
	now, err := o.day(o.Date)
	if err != nil {
		return err
	}
	packs, err := choosePacks(f, o.Pack)
	if err != nil {
		return err
	}
	f.SetClock(place.Of(now.Location()))
	s := season.New(f)
	var pages []labels.PackPage
	for _, p := range packs {
		page, err := packPage(f, s, p, now)
		if err != nil {
			return err
		}
		pages = append(pages, page)
	}
	return labels.PackReport(w, pages, labels.ReportOptions{Paper: o.Paper, Date: f.Clock().Words(now.UnixMilli()), Team: f.Team().Name, Warn: warn})
}

func (o *fleetreportChoices) print(w io.Writer, f *fleet.Fleet, _ string, warn paperNotes) error {
	now, err := o.day(o.Date)
	if err != nil {
		return err
	}
	if o.Wanted < 0 {
		return problem.Invalidf("wanted", "give 1 or more", "--wanted is %d", o.Wanted)
	}
	f.SetClock(place.Of(now.Location()))
	board, err := season.BoardOf(f, season.BoardRequest{NowMS: now.UnixMilli(), Day: o.Day, Wanted: o.Wanted})
	if err != nil {
		return err
	}
	page := fleetPage(f, &board)
	return labels.FleetReport(w, page, labels.ReportOptions{Paper: o.Paper, Date: f.Clock().Words(now.UnixMilli()), Team: f.Team().Name, Warn: warn})
}

// packPage fills the report of one pack.
func packPage(f *fleet.Fleet, s *season.Season, p labels.Pack, now time.Time) (labels.PackPage, error) {
	ms := now.UnixMilli()
	pack, err := s.Pack(p.Code, ms)
	if err != nil {
		return labels.PackPage{}, err
	}
	health, err := s.Health(p.Code, ms)
	if err != nil {
		return labels.PackPage{}, err
	}
	onDay := f.Clock().Words
	page := labels.PackPage{
		Pack: p, Details: detailsOf(&pack), Decision: decisionWords(pack.Decision.Outcome, pack.Decision.TreatAs), Reason: sentence(pack.Decision.Reason), Next: pack.Decision.Next,
		Trend: sentence(health.Problem), Plot: labels.Plot{Zone: now.Location(), LimitOhm: f.Team().Limits.CompetitionOhm},
	}
	if health.Trend != nil {
		page.Trend = sentence(health.Trend.Text)
		if c := health.Trend.Forecast; c != nil {
			page.Plot.EarliestMS, page.Plot.LikelyMS, page.Plot.LatestMS = c.EarliestMS, c.LikelyMS, c.LatestMS
		}
	}
	why := map[string]string{}
	for _, pt := range health.Points {
		page.Plot.Points = append(page.Plot.Points, labels.PlotPoint{AtMS: pt.AtMS, Ohm: pt.UsedOhm, PlusOhm: pt.PlusOhm, Used: pt.Used})
		why[pt.Test] = pt.Reason
		if pt.Flag != "" {
			why[pt.Test] = pt.Flag
		}
	}
	for _, b := range health.Band {
		page.Plot.Band = append(page.Plot.Band, labels.PlotBand{AtMS: b.AtMS, Ohm: b.Ohm, LowOhm: b.LowOhm, HighOhm: b.HighOhm, Ahead: b.Ahead})
	}
	for _, r := range pack.Repairs {
		if !r.Voided {
			page.Plot.Marks = append(page.Plot.Marks, labels.PlotMark{AtMS: r.AtMS, Words: onDay(r.AtMS) + " repair, " + string(r.Part) + ": " + r.Text})
		}
	}
	for _, n := range health.Report.Findings {
		page.Findings = append(page.Findings, labels.ReportFinding{Title: findingWords(&n), Evidence: sentences(n.Evidence), Action: n.Action, Past: n.Past})
		page.Plot.Marks = append(page.Plot.Marks, labels.PlotMark{AtMS: n.SinceMS, Words: onDay(n.SinceMS) + " " + findingWords(&n)})
	}
	for _, t := range pack.Tests {
		if t.Voided {
			continue
		}
		row := labels.ReportTest{Date: onDay(t.AtMS), Result: "not worked out", By: t.By, Decision: outcomeWords(t.Decision.Outcome), Note: cmp.Or(noteOf(&t), why[t.Entry])}
		if t.Alone != "" {
			row.Decision, row.Note = "resistance alone", strings.TrimSuffix(t.Alone+"; "+row.Note, "; ")
		}
		if r := t.Result; r != nil {
			row.Result = resistanceWords(r.ResistanceOhm, r.ExpandedUncertaintyOhm)
			if r.BoundOnly && r.UpperBoundOhm != nil {
				row.Result = "at most " + measure.ShowDigits(*r.UpperBoundOhm, 3, "Ω")
			}
		}
		page.Tests = append(page.Tests, row)
	}
	return page, addWorking(f, &page, pack.LatestTest, ms, onDay)
}

// addWorking puts in how the latest test was worked out.
func addWorking(f *fleet.Fleet, page *labels.PackPage, test string, nowMS int64, onDay func(int64) string) error {
	if test == "" {
		return nil
	}
	t, err := f.Test(test, nowMS)
	if err != nil {
		return err
	}
	if t.Result != nil {
		page.WorkedOn = "(" + onDay(t.AtMS) + ")"
		for _, s := range t.Result.Working {
			page.Working = append(page.Working, labels.ReportStep{Label: s.Label, Formula: s.Formula, Numbers: s.Numbers, Result: s.Result})
		}
	}
	return nil
}

// noteOf is what was noted at a test, after how it was read where that is unusual.
func noteOf(t *fleet.Test) string {
	switch {
	case t.Test != nil:
		return t.Test.Note
	case t.Method == loadtest.DirectAC:
		return strings.TrimSpace("a.c. " + t.Direct.Note)
	}
	return strings.TrimSpace("instrument " + t.Direct.Note)
}

func sentences(texts []string) []string {
	list := make([]string, len(texts))
	for i, text := range texts {
		list[i] = sentence(text)
	}
	return list
}

// detailsOf are the facts of a pack that its report begins with.
func detailsOf(p *fleet.Pack) []string {
	details := []string{fmt.Sprintf("%d cells", p.Cells)}
	add := func(known bool, format string, args ...any) {
		if known {
			details = append(details, fmt.Sprintf(format, args...))
		}
	}
	add(p.CapacityAh > 0, "%s rated", measure.Show(p.CapacityAh, "Ah"))
	add(p.InService != "", "in service since %s", dayWords(p.InService))
	add(p.FuseA > 0, "fuse %s", measure.Show(p.FuseA, "A"))
	add(p.LeadMM2 > 0, "lead %s", measure.Show(p.LeadMM2, "mm²"))
	add(p.LeadLengthMM > 0, "%s long", measure.Show(p.LeadLengthMM, "mm"))
	add(p.Connector != "", "%s", p.Connector)
	add(p.Retired, "retired: %s", cmp.Or(p.RetiredWhy, "no reason given"))
	return details
}

// dayWords writes a day of a record, 2026-11-25, as the rest of a page has it.
func dayWords(text string) string {
	var utc place.Clock
	if noon, ok := utc.Noon(text); ok {
		return utc.Words(noon)
	}
	return text
}

// decisionWords says what a pack is to be used as.
func decisionWords(o, treatAs judge.Outcome) string {
	if treatAs != "" {
		return "treat as " + string(treatAs)
	}
	return outcomeWords(o)
}

// outcomeWords says a decision on paper.
func outcomeWords(o judge.Outcome) string {
	switch o {
	case judge.Practice:
		return "practice only"
	case judge.Retest:
		return "retest"
	case judge.SetAside:
		return "set aside"
	case judge.Untested:
		return "not tested"
	}
	return string(o)
}

func findingWords(n *diagnose.Finding) string {
	if n.Confidence == diagnose.Plain || n.Cause == diagnose.LostCell { // whose title says it
		return n.Title
	}
	return n.Title + " (" + string(n.Confidence) + ")"
}

func resistanceWords(ohm, plus float64) string { return measure.ShowInterval(ohm, plus, "Ω") }

// sentence gives text a capital and a full stop.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	first := []rune(text)[0]
	text = strings.ToUpper(string(first)) + text[len(string(first)):]
	if strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// namesOf are the names of packs in the order of the board; codes where they have
// none.
func namesOf(rows []season.BoardRow) string {
	var names []string
	for _, r := range rows {
		names = append(names, cmp.Or(r.Name, r.Code))
	}
	return cmp.Or(strings.Join(names, ", "), "none")
}

// validOnLabel tells codes that paper can carry: a record may name its pack otherwise.
func validOnLabel(code string) bool {
	read, err := journal.ReadCode(code)
	return err == nil && read == code
}
