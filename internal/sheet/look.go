package sheet

import (
	"slices"
	"strconv"
	"strings"

	"packwright/internal/place"
	"packwright/internal/problem"
)

// Look reads a table of old tests with the plan that a person corrected, or with
// one that it proposes where plan is nil. Every row that is not empty is in the
// Preview: with the body of an entry, or with what is wrong. Times without a zone
// are those of the clock, each with the offset of its own day. Errors are
// *problem.Error: the text is no table, or the plan cannot be followed.
func Look(text string, known []Known, now int64, clock place.Clock, plan *Plan) (Preview, error) {
	if err := refuse(text); err != nil {
		return Preview{}, err
	}
	l := looking{known: known, now: now, clock: clock, seen: map[string]bool{}}
	if plan != nil {
		if err := plan.Check(); err != nil {
			return Preview{}, err
		}
		l.plan = *plan
		l.plan.Columns = slices.Clone(plan.Columns)
	}
	if strings.Contains(text, "\ufffd") {
		l.doubt("some letters of the file cannot be read: save it again as “CSV UTF-8” if names look wrong")
	}
	text = strings.ToValidUTF8(tidy(text), "\ufffd")
	p := &l.plan
	if p.Delimiter == "" {
		p.Delimiter = proposeDelimiter(text)
	}
	rows := records(text, p.Delimiter, mostRows+mostHeadRows+1)
	if len(rows) > mostRows {
		return Preview{}, problem.New(problem.TooLarge, "import it in parts", "the table has more than %d rows", mostRows)
	}
	rows = l.complete(rows)
	l.prepare(rows)
	for i := range rows {
		l.out.Rows = append(l.out.Rows, l.make(&rows[i]))
	}
	l.count()
	return l.out, nil
}

// looking is one call of Look.
type looking struct {
	plan   Plan
	known  []Known
	now    int64
	clock  place.Clock
	seen   map[string]bool // tests that are there already, by what makes them the same
	stepV  float64         // finest step of voltages in the table, volt
	stepR  float64         // and of resistances, ohm
	places []*field        // by column
	out    Preview
}

// doubt adds a sentence once.
//
//go:noinline
func (l *looking) doubt(text string) {
	if !slices.Contains(l.out.Doubts, text) {
		l.out.Doubts = append(l.out.Doubts, text)
	}
}

// complete fills in what the plan leaves open, and gives the rows below the head.
func (l *looking) complete(rows []record) []record {
	p := &l.plan
	at, _ := findHead(rows)
	if p.Columns == nil {
		p.HeadRows = 0
		if at >= 0 {
			p.HeadRows = rows[at].line
		}
	}
	var heads []string
	below := rows
	for len(below) > 0 && below[0].line <= p.HeadRows {
		heads, below = below[0].cells, below[1:]
	}
	sample := below[:min(len(below), sampled)]
	if p.Decimal == "" {
		var doubt string
		if p.Decimal, doubt = proposeDecimal(sample, p.Delimiter); doubt != "" {
			l.doubt(doubt)
		}
	}
	if p.Columns == nil {
		p.Columns = proposeColumns(heads, sample, p, l.known)
		l.judgeColumns()
	}
	for i := range p.Columns {
		if c := &p.Columns[i]; c.Name == "" && i < len(heads) {
			c.Name = strings.TrimSpace(heads[i])
		}
	}
	if at := firstOf(p.Columns, TestDate); p.DateOrder == "" && at >= 0 {
		var dates []string
		for i := range below {
			dates = append(dates, below[i].cell(at))
		}
		if p.DateOrder, p.Columns[at].Doubt = dateOrder(dates, l.now, l.clock); p.Columns[at].Doubt != "" {
			l.doubt(p.Columns[at].Doubt)
		}
	}
	p.DateOrder = orElse(p.DateOrder, "ymd")
	return below
}

// judgeColumns says what a proposal lacks or takes for granted.
func (l *looking) judgeColumns() {
	p := &l.plan
	has := func(f Field) bool { return firstOf(p.Columns, f) >= 0 }
	if !has(PackCode) && p.Pack == "" {
		l.doubt("no column names the pack: choose one, or the pack that the table is about")
	}
	if !has(TestDate) {
		l.doubt("no column has the date: choose one")
	}
	volts := has(OpenVolts) && has(LoadedVolts)
	switch {
	case !volts && !has(Resistance) && !has("loaded_1_v"):
		l.doubt("no column has voltages open and under load, or a resistance: choose them")
	case volts && !has(LoadOhms) && !has("current_a") && p.LoadOhm == 0 && !has(MethodUsed):
		l.doubt("no column has the load: type it once for the whole table")
	case volts && has(Resistance) && !has(MethodUsed):
		l.doubt("resistances are worked out anew from the voltages; the column of resistances counts only in rows without")
	}
	if has(Resistance) && p.Method == "" {
		at := firstOf(p.Columns, Resistance)
		p.Method = "direct-dc"
		name := " " + readHead(p.Columns[at].Name).words + " "
		if slices.ContainsFunc([]string{" ac ", " acir ", " impedance ", " impedanz ", " impedancia ", " khz "}, func(w string) bool { return strings.Contains(name, w) }) {
			p.Method = "direct-ac"
		}
		if !has(MethodUsed) && !volts {
			kind := "direct-current ones (choose a.c. where the instrument says 1 kHz)"
			if p.Method == "direct-ac" {
				kind = "alternating-current ones"
			}
			l.doubt("the resistances are taken for " + kind + ", right to ± " + Number(usualAccuracyPct) + " %")
		}
	}
	if volts && !has("meter_resolution_v") {
		l.doubt("the meter is taken for one of ± (" + Number(usualMeterPct) + " % + " + Number(usualMeterCounts) + " counts), and a load without a tolerance of its own for ± " + Number(usualTolerancePct) + " %")
	}
}

// prepare gathers what rows need.
func (l *looking) prepare(rows []record) {
	p := &l.plan
	l.places = make([]*field, len(p.Columns))
	for i := range p.Columns {
		l.places[i] = fieldOf(p.Columns[i].Field)
	}
	l.stepV = l.finest(rows, 0.001, OpenVolts, LoadedVolts)
	l.stepR = l.finest(rows, 1e-5, Resistance)
	for i := range l.known {
		for k := range l.known[i].Tests {
			t := &l.known[i].Tests[k]
			l.see(l.known[i].Code, t.AtMS, t.Test, t.Direct)
		}
	}
}

// finest is the finest step of the last digits in the columns, at least floor:
// a spreadsheet drops zeros at the end, and has too many digits of what it
// worked out.
func (l *looking) finest(rows []record, floor float64, names ...Field) float64 {
	best := 0.0
	for i, f := range l.places {
		if f == nil || !slices.Contains(names, f.name) {
			continue
		}
		for r := range rows {
			text := strings.TrimSpace(rows[r].cell(i))
			if text == "" {
				continue
			}
			own := strings.TrimLeft(text, "0123456789.,+-− ")
			step, err := value(strconv.FormatFloat(digitStep(text, l.plan.Decimal), 'f', -1, 64)+" "+orElse(own, l.plan.Columns[i].Unit), f, "", ".")
			if err == nil && (best == 0 || step < best) {
				best = step
			}
		}
	}
	return max(best, floor)
}

// count sums the preview up.
func (l *looking) count() {
	l.out.Plan = l.plan
	for i := range l.out.Rows {
		switch r := &l.out.Rows[i]; {
		case r.Problem != "":
			l.out.Bad++
		case r.Again:
			l.out.Again++
		default:
			l.out.Good++
		}
	}
	if len(l.out.Rows) == 0 {
		l.doubt("there is no row below the heads")
	}
	if l.out.Rows == nil {
		l.out.Rows = []Made{}
	}
	if l.out.Doubts == nil {
		l.out.Doubts = []string{}
	}
	if l.out.Plan.Columns == nil {
		l.out.Plan.Columns = []Column{}
	}
}
