package logged

import (
	"bytes"

	"packwright/internal/problem"
)

// Format says how a file is written. Look finds it; a person may correct it.
type Format struct {
	Delimiter  string   `json:"delimiter"`   // "," ";" or a tab
	Decimal    string   `json:"decimal"`     // "." or ","
	LineEnd    string   `json:"line_end"`    // "\n" (also after "\r") or "\r"
	FirstRow   int      `json:"first_row"`   // line of the first row of readings, from 1
	TimeColumn int      `json:"time_column"` // columns from 1
	VoltColumn int      `json:"volt_column"`
	AmpColumn  int      `json:"amp_column"` // 0 where amps are not logged
	TimeUnit   TimeUnit `json:"time_unit"`
	VoltUnit   string   `json:"volt_unit"`  // "V" or "mV"
	AmpUnit    string   `json:"amp_unit"`   // "A" or "mA"
	LocalTime  bool     `json:"local_time"` // clock times without an offset from UTC
}

// mostColumns is more than any logger of one pack writes.
const mostColumns = 200

// Check says whether the format can be used. Errors are *problem.Error.
func (f Format) Check() error {
	switch {
	case f.Delimiter != "," && f.Delimiter != ";" && f.Delimiter != "\t":
		return problem.Invalidf("delimiter", "choose comma, semicolon or tab", "%q is not a separator of columns", f.Delimiter)
	case f.Decimal != "." && f.Decimal != ",":
		return problem.Invalidf("decimal", "choose point or comma", "%q is not a decimal sign", f.Decimal)
	case f.LineEnd != "\n" && f.LineEnd != "\r":
		return problem.Invalidf("line_end", "", "%q is not an end of a line", f.LineEnd)
	case f.FirstRow < 1:
		return problem.Invalidf("first_row", "the first line is 1", "%d is not a line", f.FirstRow)
	case f.VoltUnit != "V" && f.VoltUnit != "mV":
		return problem.Invalidf("volt_unit", "choose V or mV", "%q is not a unit of voltage", f.VoltUnit)
	case f.AmpColumn != 0 && f.AmpUnit != "A" && f.AmpUnit != "mA":
		return problem.Invalidf("amp_unit", "choose A or mA", "%q is not a unit of current", f.AmpUnit)
	case f.TimeUnit.seconds() == 0 && f.TimeUnit != HourMinSec && f.TimeUnit != MinSec && f.TimeUnit != HourMin && f.TimeUnit != ISO:
		return problem.Invalidf("time_unit", "choose how times are written", "%q is not a way to write times", string(f.TimeUnit))
	}
	for _, c := range []struct {
		field         string
		column, least int
	}{{"time_column", f.TimeColumn, 1}, {"volt_column", f.VoltColumn, 1}, {"amp_column", f.AmpColumn, 0}} {
		if c.column < c.least || c.column > mostColumns {
			return problem.Invalidf(c.field, "choose a column", "there is no column %d", c.column)
		}
	}
	if f.TimeColumn == f.VoltColumn || f.AmpColumn == f.TimeColumn || f.AmpColumn == f.VoltColumn {
		return problem.Invalidf("volt_column", "choose a column for each", "one column cannot be two quantities")
	}
	return nil
}

// fault is what is wrong with a line.
type fault struct {
	kind IssueKind
	cell []byte // the cell it is about; valid until the next line
	what string // what the cell should be
}

// row reads one line that is neither empty nor a comment.
func (f *Format) row(line []byte, mostV float64) (Row, fault) {
	var cell [4][]byte
	last := max(f.TimeColumn, f.VoltColumn, f.AmpColumn)
	rest, more := line, true
	for column := 1; column <= last; column++ {
		if !more {
			return Row{}, fault{kind: ShortRow}
		}
		var c []byte
		c, rest, more = cutCell(rest, f.Delimiter[0])
		switch column {
		case f.TimeColumn:
			cell[0] = c
		case f.VoltColumn:
			cell[1] = c
		case f.AmpColumn:
			cell[2] = c
		}
	}
	decimal := f.Decimal[0]
	r := Row{Amps: nan}
	var ok bool
	if r.TimeS, ok = f.TimeUnit.timeOf(cell[0], decimal); !ok {
		return r, fault{Unreadable, cell[0], "a time in " + string(f.TimeUnit)}
	}
	if r.Volts, ok = number(cell[1], decimal); !ok {
		return r, fault{Unreadable, cell[1], "a voltage"}
	}
	if f.VoltUnit == "mV" {
		r.Volts /= 1000
	}
	if !(r.Volts >= -mostV && r.Volts <= mostV) {
		return r, fault{Impossible, cell[1], "volts of this pack"}
	}
	if f.AmpColumn > 0 {
		if r.Amps, ok = number(cell[2], decimal); !ok {
			return r, fault{Unreadable, cell[2], "a current"}
		}
		if f.AmpUnit == "mA" {
			r.Amps /= 1000
		}
		if !(r.Amps >= -highestA && r.Amps <= highestA) {
			return r, fault{Impossible, cell[2], "amps of this pack"}
		}
	}
	return r, fault{}
}

// cutCell takes the first cell off a line, without spaces around it and
// without its quotes. Quotes in quoted cells are not undone: no number has any.
func cutCell(line []byte, delimiter byte) (cell, rest []byte, more bool) {
	if trimmed := bytes.TrimLeft(line, " "); len(trimmed) > 0 && trimmed[0] == '"' {
		if end := bytes.IndexByte(trimmed[1:], '"'); end >= 0 {
			cell, rest = trimmed[1:end+1], trimmed[end+2:]
			if at := bytes.IndexByte(rest, delimiter); at >= 0 {
				return trim(cell), rest[at+1:], true
			}
			return trim(cell), nil, false
		}
	}
	if at := bytes.IndexByte(line, delimiter); at >= 0 {
		return trim(line[:at]), line[at+1:], true
	}
	return trim(line), nil, false
}

// trim takes spaces and tabs off, also those that do not break; a plain cell
// costs nothing.
func trim(b []byte) []byte {
	if len(b) > 0 && b[0] > ' ' && b[len(b)-1] > ' ' && b[len(b)-1] < 0x80 {
		return b
	}
	return bytes.TrimSpace(b)
}

// cellsOf is all cells of a line.
func cellsOf(line []byte, delimiter byte) []string {
	var out []string
	for more := true; more && len(out) < mostColumns; {
		var c []byte
		c, line, more = cutCell(line, delimiter)
		out = append(out, string(c))
	}
	return out
}
