package logged

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
)

// HeadBytes is as much of a file as Look needs.
const HeadBytes = 64 << 10

// Preview is what the head of a file looks like.
type Preview struct {
	Format  Format             `json:"format"`
	Columns []string           `json:"columns"` // their names, or "column 1"
	Rows    []PreviewRow       `json:"rows"`    // the first rows
	Read    int                `json:"read"`    // rows of the head that can be used
	Issues  []IssueCount       `json:"issues"`  // of the head
	Doubts  []loadtest.Warning `json:"doubts"`  // what was guessed and should be looked at

	TimesWithoutUnit bool   `json:"times_without_unit"` // nothing but Format says what the times are in
	StartedMS        *int64 `json:"started_ms"`         // unix ms of the first row; null where the rows have no date
}

// PreviewRow is a line of the file and what is read from it.
type PreviewRow struct {
	Line    int      `json:"line"`
	Cells   []string `json:"cells"`
	TimeS   *float64 `json:"time_s"` // second from the first row
	Volts   *float64 `json:"volts"`
	Amps    *float64 `json:"amps"`
	Problem string   `json:"problem,omitempty"`
}

// mostPreviewed is how many rows a preview shows.
const mostPreviewed = 8

// Look finds out how a file is written from its first HeadBytes (whole says
// that this is all of it). packCells tells likely volts from millivolts, and clock
// is that of the place where the file was written. Errors are *problem.Error: the
// file is no table of readings.
func Look(head []byte, whole bool, packCells int, clock place.Clock) (Preview, error) {
	if err := refuse(head); err != nil {
		return Preview{}, err
	}
	f := Format{LineEnd: "\n", AmpUnit: "A", VoltUnit: "V"}
	if !bytes.Contains(head, []byte{'\n'}) && bytes.Contains(head, []byte{'\r'}) {
		f.LineEnd = "\r"
	}
	t := findTable(linesOf(head, whole, f.LineEnd))
	if t.rows == 0 {
		return Preview{}, problem.New(problem.Invalid, "each row needs a time and volts, with commas, semicolons or tabs between them",
			"no row of readings was found")
	}
	f.Delimiter, f.Decimal, f.FirstRow = t.delimiter, t.decimal, t.firstRow
	var d doubts
	if err := f.setColumns(&t, &d); err != nil {
		return Preview{}, err
	}
	f.setUnits(&t, packCells, &d)
	return preview(head, whole, f, packCells, t.heads, d, clock)
}

// LookAs gives the preview for a format that a person corrected. Errors are
// *problem.Error.
func LookAs(head []byte, whole bool, packCells int, f Format, clock place.Clock) (Preview, error) {
	if err := f.Check(); err != nil {
		return Preview{}, err
	}
	if err := refuse(head); err != nil {
		return Preview{}, err
	}
	t := table{delimiter: f.Delimiter, decimal: f.Decimal}
	t.scan(linesOf(head, whole, f.LineEnd))
	return preview(head, whole, f, packCells, t.heads, nil, clock)
}

// refuse tells files that are no text at all.
func refuse(head []byte) error {
	switch {
	case len(bytes.TrimSpace(head)) == 0:
		return problem.New(problem.Invalid, "", "the file is empty")
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return problem.New(problem.Invalid, "open it and save the sheet as CSV", "this is a spreadsheet or an archive, not a CSV file")
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return problem.New(problem.Invalid, "save it again as CSV in UTF-8", "the file is written in UTF-16")
	case bytes.IndexByte(head, 0) >= 0:
		return problem.New(problem.Invalid, "export CSV from the logger's program", "the file is not text")
	}
	return nil
}

// linesOf cuts the head into lines; the last, unfinished one is left out.
func linesOf(head []byte, whole bool, end string) [][]byte {
	var lines [][]byte
	rest := bytes.TrimPrefix(head, bom)
	for {
		at := bytes.IndexByte(rest, end[0])
		line := rest
		if at >= 0 {
			line = rest[:at]
		} else if !whole && len(lines) > 0 {
			return lines
		}
		if line = dropCR(line); len(line) > longest {
			line = nil
		}
		if lines = append(lines, line); at < 0 {
			return lines
		}
		rest = rest[at+1:]
	}
}

var bom = []byte("\ufeff")

// doubts collects what should be looked at. A phone downloads every inlined
// copy of add.
type doubts []loadtest.Warning

//
//go:noinline
func (d *doubts) add(code, hint, format string, args ...any) {
	*d = append(*d, loadtest.Warning{Code: code, Hint: hint, Text: fmt.Sprintf(format, args...)})
}

// setColumns finds time, volts and amps.
func (f *Format) setColumns(t *table, d *doubts) error {
	column, unit, unsure := columns(t.heads)
	if len(t.heads) > 0 && len(t.heads) < t.columns && t.delimiter == "," {
		return problem.New(problem.Invalid, "save it with semicolons between columns, or with decimal points",
			"the head names %d columns but the rows have %d: decimal commas cannot be told from separators", len(t.heads), t.columns)
	}
	named := column[voltQ] > 0
	free := func() int { // the first column of numbers that is nothing yet
		for i, readable := range t.readable {
			if readable && !slices.Contains(column[:], i+1) {
				return i + 1
			}
		}
		return 0
	}
	if column[timeQ] == 0 {
		column[timeQ] = free()
	}
	if column[voltQ] == 0 {
		column[voltQ] = free()
	}
	if !named && column[ampQ] == 0 {
		column[ampQ] = free()
	}
	f.TimeColumn, f.VoltColumn, f.AmpColumn = column[timeQ], column[voltQ], column[ampQ]
	switch {
	case f.TimeColumn == 0 || f.VoltColumn == 0:
		return problem.New(problem.Invalid, "the file needs a column of times and one of volts", "there are not enough columns of numbers")
	case !named:
		d.add("columns-guessed", "check the columns", "the head does not name the columns: taken in the order time, volts, amps")
	case unsure[voltQ] || unsure[timeQ] || unsure[ampQ]:
		d.add("columns-unsure", "check the columns", "more than one column could be time, volts or amps: the first was taken")
	}
	f.VoltUnit, f.AmpUnit, f.TimeUnit = cmp.Or(unit[voltQ], "?"), cmp.Or(unit[ampQ], "?"), TimeUnit(cmp.Or(unit[timeQ], "?"))
	return nil
}

// setUnits settles units from the head's words, and where they are missing or
// cannot be right, from the values.
func (f *Format) setUnits(t *table, packCells int, d *doubts) {
	f.setTimeUnit(t, d)
	if packCells <= 0 {
		packCells = cells.Usual
	}
	volts := math.Abs(median(t.values(f.VoltColumn)))
	possible := func(v float64) bool {
		return v >= 0.5*float64(packCells) && v <= cells.HighestV(packCells)
	}
	told := f.VoltUnit
	switch {
	case told != "mV" && !possible(volts) && possible(volts/1000):
		f.VoltUnit = "mV"
		d.add("millivolts", "check the unit", "volts like %s are taken as millivolts: %s", measure.Show(volts, ""), measure.Show(volts/1000, "V"))
	case told == "mV" && !possible(volts/1000) && possible(volts):
		f.VoltUnit = "V"
		d.add("volts", "check the unit", "the head says mV, but values like %s are taken as volts", measure.Show(volts, ""))
	case told == "?":
		f.VoltUnit = "V"
	}
	v := volts
	if f.VoltUnit == "mV" {
		v /= 1000
	}
	if !possible(v) && v > 0 {
		d.add("odd-volts", "check the column, the unit and the number of cells", "%s is not a voltage of %d cells", measure.Show(v, "V"), packCells)
	}
	if f.AmpUnit == "?" {
		f.AmpUnit = "A"
		largest := 0.0
		for _, a := range t.values(f.AmpColumn) {
			largest = max(largest, math.Abs(a))
		}
		if f.AmpColumn > 0 && largest > 150 {
			f.AmpUnit = "mA"
			d.add("milliamps", "check the unit", "currents like %s are taken as milliamps: %s", measure.Show(largest, ""), measure.Show(largest/1000, "A"))
		}
	}
}

// setTimeUnit settles how times are written.
func (f *Format) setTimeUnit(t *table, d *doubts) {
	first := t.cell(0, f.TimeColumn)
	last := t.cell(len(t.sample)-1, f.TimeColumn)
	told := f.TimeUnit
	switch colons := strings.Count(first, ":"); {
	case len(first) >= 16 && first[4] == '-':
		f.TimeUnit, f.LocalTime = ISO, !hasOffset([]byte(first))
	case colons == 2:
		f.TimeUnit, f.LocalTime = HourMinSec, true
	case colons == 1:
		f.TimeUnit = MinSec
		d.add("minutes-seconds", "check how times are written", "times like %s are taken as minutes and seconds", first)
	case told == "?":
		f.TimeUnit = Seconds
		if values := t.values(f.TimeColumn); len(values) > 0 && values[0] > sinceMS {
			f.TimeUnit = Milliseconds
		}
	}
	if strings.ContainsAny(first, "/") || strings.Count(first, ".") > 1 && !strings.Contains(first, ":") {
		d.add("date", "let the logger write seconds, h:m:s or dates like 2026-11-25 14:03:05", "times like %s to %s are not understood", first, last)
	}
}

// median of a list, which it sorts; 0 of none.
func median(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	n := len(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// preview reads the head with that format.
func preview(head []byte, whole bool, f Format, packCells int, heads []string, d doubts, clock place.Clock) (Preview, error) {
	if packCells <= 0 {
		packCells = cells.Usual
	}
	p := Preview{Format: f, Columns: heads, Rows: []PreviewRow{}, Doubts: append(doubts{}, d...)}
	var found issues
	var got []Row
	r := newReader(f, packCells, &found, func(row Row) { got = append(got, row) })
	for i, line := range linesOf(head, whole, f.LineEnd) {
		before := len(got)
		r.take(line)
		if i+1 < f.FirstRow || isBlank(line) || len(p.Rows) == mostPreviewed {
			continue
		}
		row := PreviewRow{Line: i + 1, Cells: cellsOf(line, f.Delimiter[0])}
		if len(got) > before {
			g := got[before]
			t := g.TimeS - got[0].TimeS
			row.TimeS, row.Volts = &t, &g.Volts
			if f.AmpColumn > 0 {
				row.Amps = &g.Amps
			}
		} else if _, bad := f.row(line, r.mostV); bad.kind != "" {
			row.Problem = r.tell(bad, Row{})
		}
		p.Rows = append(p.Rows, row)
		for len(p.Columns) < len(row.Cells) {
			p.Columns = append(slices.Clip(p.Columns), fmt.Sprintf("column %d", len(p.Columns)+1))
		}
	}
	p.Read, p.Issues = len(got), found.list()
	p.setTimes(got, whole, heads, clock)
	if p.Read == 0 {
		(*doubts)(&p.Doubts).add("nothing-read", "check the columns, the units and the decimal sign", "no row of the file's head can be used as it stands")
	}
	return p, nil
}
