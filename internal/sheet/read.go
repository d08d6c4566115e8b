package sheet

import (
	"encoding/csv"
	"errors"
	"strings"

	"packwright/internal/problem"
)

const (
	mostBytes   = 8 << 20
	mostRows    = 20_000
	mostColumns = 200
)

// record is one row of the file.
type record struct {
	line  int // where it begins, from 1
	cells []string
	fault string // why its cells cannot be told apart
}

// cell is the text of a column, counted from 0; empty past the last one.
func (r *record) cell(i int) string {
	if i >= len(r.cells) {
		return ""
	}
	return r.cells[i]
}

// blank tells a row without anything in it.
func (r *record) blank() bool {
	if r.fault != "" {
		return false
	}
	for _, c := range r.cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// refuse tells files that are no table of text at all.
func refuse(text string) error {
	bare := strings.TrimPrefix(text, "\ufeff")
	switch {
	case strings.TrimSpace(bare) == "":
		return problem.New(problem.Invalid, "save the sheet as CSV and choose that file", "the file is empty")
	case len(text) > mostBytes:
		return problem.New(problem.TooLarge, "leave out other sheets and columns", "the file has more than %d MB", mostBytes>>20)
	case strings.HasPrefix(text, "PK\x03\x04"):
		return problem.New(problem.Invalid, "open it and save the sheet as CSV", "this is a spreadsheet or an archive, not a CSV file")
	case utf16Like(text):
		return problem.New(problem.Invalid, "save it again as “CSV UTF-8”", "the file is written in UTF-16")
	case strings.Contains(text, "\x00"):
		return problem.New(problem.Invalid, "open it in a spreadsheet program and save the sheet as CSV", "the file is not text")
	}
	return nil
}

// utf16Like tells text in UTF-16: by its byte order mark, which a decoder of
// UTF-8 may have replaced, or because every other character is a NUL.
func utf16Like(text string) bool {
	for _, mark := range []string{"\xff\xfe", "\xfe\xff", "\ufffd\ufffd"} {
		if strings.HasPrefix(text, mark) && (mark[0] >= 0xfe || strings.Contains(text, "\x00")) {
			return true
		}
	}
	nul := strings.Count(text, "\x00")
	return nul > 3 && nul*3 > len(text)
}

// tidy takes off the mark of UTF-8, and makes line ends of the old kind new ones.
func tidy(text string) string {
	text = strings.TrimPrefix(text, "\ufeff")
	if !strings.Contains(text, "\n") {
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	return text
}

// records reads up to limit rows, without blank ones. A row whose quotes do not
// match is told and skipped, and reading goes on in the next line.
func records(text, delimiter string, limit int) []record {
	var out []record
	offset := 0 // lines before the text that the reader has
	for text != "" && len(out) < limit {
		r := csv.NewReader(strings.NewReader(text))
		r.Comma = rune(delimiter[0])
		r.FieldsPerRecord = -1
		r.TrimLeadingSpace = delimiter != "\t"
		bad := 0
		for len(out) < limit {
			cells, err := r.Read()
			var at *csv.ParseError
			if errors.As(err, &at) {
				out = append(out, record{line: offset + at.StartLine, fault: "its quotes do not match"})
				bad = at.StartLine
				break
			}
			if err != nil {
				return out
			}
			line, _ := r.FieldPos(0)
			for i := range cells {
				cells[i] = unguard(cells[i])
			}
			if row := (record{line: offset + line, cells: cells[:min(len(cells), mostColumns)]}); !row.blank() {
				out = append(out, row)
			}
		}
		for range bad {
			_, text, _ = strings.Cut(text, "\n")
		}
		offset += bad
	}
	return out
}
