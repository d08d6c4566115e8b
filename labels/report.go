package labels

import (
	"io"
	"strings"

	"packwright/internal/problem"
)

// ReportOptions says how reports are printed.
type ReportOptions struct {
	Paper string // "A4" or "Letter"; empty: "A4"
	Date  string // of printing, as it is to be written
	Team  string // its name; may be empty

	Warn func(text string) // as in SheetOptions
}

// PackPage is what the report of one pack says. Texts are printed as given.
type PackPage struct {
	Pack     Pack
	Details  []string // short facts: "10 cells", "in service 2026-09-01"
	Decision string   // in capitals on the page: "competition"
	Reason   string   // one sentence
	Next     []string // what to do now
	Trend    string   // one sentence on where it is going
	Plot     Plot
	Findings []ReportFinding
	Tests    []ReportTest // newest first
	Working  []ReportStep // of the latest test
	WorkedOn string       // its date
}

// ReportFinding is what the history of a pack points to.
type ReportFinding struct {
	Title    string // with how sure it is: "Contact or lead (likely)"
	Evidence []string
	Action   string
	Past     bool // it no longer stands
}

// ReportTest is one line of the history.
type ReportTest struct {
	Date, Result, Decision, By, Note string
}

// ReportStep is one line of a working.
type ReportStep struct {
	Label, Formula, Numbers, Result string
}

// FleetPage is what the report of a fleet says.
type FleetPage struct {
	Title     string // empty: "The packs"
	Answers   []FleetAnswer
	LimitOhm  float64 // ohm, for the bars; 0: none
	Rows      []FleetRow
	Worked    []string // how it was worked out, in sentences
	Recycling string
}

// FleetAnswer answers one question of the person who reads first.
type FleetAnswer struct {
	Question string // "Which packs go to the next event?"
	Answer   string // in bold
	More     string // a sentence below it
}

// FleetRow is one pack beside the others.
type FleetRow struct {
	Pack         Pack
	Decision     string
	But          string   // what speaks against the decision, in two words
	Result       string   // "0.102 Ω ± 0.012 Ω"
	Ohm, PlusOhm *float64 // ohm, for the bar; nil: none
	Margin       string   // on the field: "+1.2 V"
	Capacity     string   // "92 %"
	Crossing     string   // "Mar 2027", or why there is no date
	Change       string   // "+2.1 % a month"
	LookAt       string   // findings in a few words
}

// MostFleetRows is how many packs stand side by side on the page.
const MostFleetRows = 24

// PackReport writes a PDF with a page for each pack: the decision, the plot of
// its resistance, what its history points to, its latest tests, and the working
// of the last one. What does not fit is left out, and the page says so.
//
// Errors are *problem.Error: no page, numbers that cannot be drawn, and, where
// o.Warn is nil, a text with characters the fonts lack.
func PackReport(w io.Writer, pages []PackPage, o ReportOptions) error {
	return write(w, o.Warn, func(t *typesetter) (*drawing, error) { return layoutPackReport(t, pages, o) })
}

// FleetReport writes one page for the mentor and the one who pays: the answers
// to their questions, all packs side by side, and how it was worked out. Packs
// beyond MostFleetRows are named below the table. Errors are as in PackReport.
func FleetReport(w io.Writer, page FleetPage, o ReportOptions) error {
	return write(w, o.Warn, func(t *typesetter) (*drawing, error) { return layoutFleetReport(t, page, o) })
}

// reportPen draws a report's page from top to bottom.
type reportPen struct {
	sheetPen
	bottom float64
}

// cautionsOfReports are the usual cautions in short (common practice, no source).
const cautionsOfReports = "A number on paper does not make a pack safe: one that is swollen, leaking, hot or damaged is set aside, whatever it measures. " +
	"Repairs and tests are done with an adult present, by the cell maker’s instructions, the event’s rules and local rules; ask somebody qualified where unsure."

// newReportPage adds a page with the cautions at its foot.
func newReportPage(t *typesetter, d *drawing, o ReportOptions, marginMM float64) (*reportPen, error) {
	w, h, err := paperOf(o.Paper)
	if err != nil {
		return nil, err
	}
	pen := &reportPen{sheetPen: sheetPen{t: t, p: d.addPage(w, h), left: marginMM, right: w - marginMM, y: 16}}
	pen.bottom = h - 10
	lines := t.wrap(regular, cautionsOfReports, pen.right-pen.left, 7.5)
	y := pen.bottom - float64(len(lines)-1)*lineMM(7.5)
	pen.p.line(pen.left, y-4.2, pen.right, y-4.2, 0.2)
	for _, l := range lines {
		t.put(pen.p, regular, 7.5, pen.left, y, l)
		y += lineMM(7.5)
	}
	pen.bottom -= float64(len(lines)-1)*lineMM(7.5) + 7
	return pen, nil
}

// lineMM is the distance of lines of that type.
func lineMM(sizePT float64) float64 { return sizePT * mmPerPT * leading }

// wrapped draws text broken to w in at most most lines, the last one cut after a
// word where more would follow, and moves down by what it took.
func (r *reportPen) wrapped(f face, sizePT, x, w float64, most int, text string) {
	lines := r.t.wrap(f, text, w, sizePT)
	if len(lines) > most {
		lines = lines[:most]
		last := lines[most-1]
		for r.t.width(f, sizePT, last+" "+ellipsis) > w && strings.Contains(last, " ") {
			last = last[:strings.LastIndexByte(last, ' ')]
		}
		lines[most-1] = last + " " + ellipsis
	}
	for _, l := range lines {
		r.t.putFit(r.p, f, sizePT, sizePT-1, x, r.y, w, l)
		r.y += lineMM(sizePT)
	}
}

// printables makes texts printable in place.
func (t *typesetter) printables(what string, texts ...*string) {
	for _, s := range texts {
		*s = t.printable(what, *s)
	}
}

// nothingToPrint is the error of a report without packs.
func nothingToPrint() error {
	return problem.New(problem.NotFound, "add a pack in the app first", "there is no pack to report on")
}
