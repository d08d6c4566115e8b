package logged

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"packwright/internal/measure"
)

var nan = math.NaN()

// longest is the most bytes a line of readings has.
const longest = 4096

// reader turns the bytes of a file, in chunks of any size, into rows.
type reader struct {
	format   Format
	mostV    float64
	issues   *issues
	row      func(Row)
	end      byte
	line     int    // last line begun
	partial  []byte // of a line whose end has not come
	tooLong  bool   // the rest of this line is not kept
	blank    int    // lines without readings: empty and comments, after the first row
	readings int    // lines with readings, used or not
}

func newReader(f Format, packCells int, s *issues, row func(Row)) *reader {
	return &reader{format: f, mostV: highestCellV * float64(packCells), issues: s, row: row, end: f.LineEnd[0]}
}

// write takes the next bytes.
func (r *reader) write(p []byte) {
	for {
		at := bytes.IndexByte(p, r.end)
		if at < 0 {
			r.keep(p)
			return
		}
		if len(r.partial) > 0 || r.tooLong {
			r.keep(p[:at])
			r.take(r.partial)
			r.partial = r.partial[:0]
		} else {
			r.take(p[:at])
		}
		p = p[at+1:]
	}
}

// keep puts bytes of an unfinished line aside, never more than longest.
func (r *reader) keep(p []byte) {
	if len(r.partial)+len(p) > longest {
		r.tooLong = true
		p = p[:max(0, min(len(p), longest-len(r.partial)))]
	}
	r.partial = append(r.partial, p...)
}

// finish takes a last line without an end.
func (r *reader) finish() {
	if len(r.partial) > 0 {
		r.take(r.partial)
		r.partial = nil
	}
}

// take reads one line.
func (r *reader) take(line []byte) {
	r.line++
	tooLong := r.tooLong || len(line) > longest
	r.tooLong = false
	if r.line < r.format.FirstRow {
		return
	}
	if r.line == 1 {
		line = bytes.TrimPrefix(line, bom)
	}
	if isBlank(line) {
		r.blank++
		return
	}
	r.readings++
	if tooLong {
		r.issues.add(LongLine, r.line, func() string { return "more than " + strconv.Itoa(longest) + " characters" })
		return
	}
	row, f := r.format.row(dropCR(line), r.mostV)
	if f.kind != "" {
		r.issues.add(f.kind, r.line, func() string { return r.tell(f, row) })
		return
	}
	row.Line = r.line
	r.row(row)
}

// tell writes a fault out.
func (r *reader) tell(f fault, row Row) string {
	switch f.kind {
	case ShortRow:
		return fmt.Sprintf("fewer than %d columns", max(r.format.TimeColumn, r.format.VoltColumn, r.format.AmpColumn))
	case Impossible:
		text := fmt.Sprintf("%s are not %s", shorten(f.cell), f.what)
		if v := row.Volts / 1000; row.Volts > r.mostV && v < r.mostV && r.format.VoltUnit == "V" {
			text += ": millivolts would be " + measure.Show(v, "V")
		}
		return text
	}
	if len(f.cell) == 0 {
		return "an empty cell where " + f.what + " should be"
	}
	return shorten(f.cell) + " is not " + f.what
}

// shorten quotes a cell, however long and odd it is.
func shorten(cell []byte) string {
	const most = 24
	if len(cell) > most {
		return strconv.Quote(string(cell[:most])) + "…"
	}
	return strconv.Quote(string(cell))
}

func dropCR(line []byte) []byte { return bytes.TrimSuffix(line, []byte{'\r'}) }

// isBlank tells lines that hold nothing: empty, only separators, or a comment.
func isBlank(line []byte) bool {
	for _, c := range line {
		switch c {
		case ' ', '\t', '\r', ',', ';':
		case '#':
			return true
		default:
			return false
		}
	}
	return true
}
