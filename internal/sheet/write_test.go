package sheet

import (
	"encoding/csv"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// RFC 4180: CRLF, quotes around cells that hold commas, quotes or line breaks,
// quotes doubled (section 2, rules 1, 5, 6 and 7, and its examples).
func TestWriteAsRFC4180(t *testing.T) {
	got := Write([]string{"a", "b"}, [][]string{{"aaa", `b"bb`}, {"x,y", "two\nlines"}, {"", ""}})
	if want := "a,b\r\naaa,\"b\"\"bb\"\r\n\"x,y\",\"two\nlines\"\r\n,\r\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return
// must not be run. A number is none of them, or no reading below zero could be
// summed.
func TestFormulasAreGuarded(t *testing.T) {
	for cell, want := range map[string]string{
		"=1+1":                    "'=1+1",
		"+49 170":                 "'+49 170",
		"@SUM(A1)":                "'@SUM(A1)",
		"-2+3+cmd|' /C calc'!A0":  "'-2+3+cmd|' /C calc'!A0",
		"\t=1":                    "'\t'=1",
		"\r=1":                    "'\r'=1",
		"＝1+1":                    "'＝1+1",
		"-0.01":                   "-0.01",
		"+2.5e-3":                 "+2.5e-3",
		"-":                       "'-",
		"-1-1":                    "'-1-1",
		"−0.01":                   "−0.01", // the sign of print starts no formula
		"12-3":                    "12-3",
		"swollen;=HYPERLINK(A1)":  "swollen;'=HYPERLINK(A1)", // where semicolons part cells
		"first\n- second":         "first\n'- second",
		"it's = fine":             "it's = fine",
		"'=already":               "''=already",
		"=HYPERLINK(\"a\",\"b\")": "'=HYPERLINK(\"a\",\"b\")",
	} {
		if got := guard(cell); got != want {
			t.Errorf("guard(%q) = %q, want %q", cell, got, want)
		}
		if got := unguard(guard(cell)); got != cell {
			t.Errorf("unguard(guard(%q)) = %q", cell, got)
		}
	}
}

// FuzzWrite: any table is read back by the standard library's reader and by
// records as it was, and no cell starts a formula.
func FuzzWrite(f *testing.F) {
	f.Add("a", "=1+1", "x;\t-5", "two\r\nlines")
	f.Add("'", "''=x", "\"", " lead ")
	f.Fuzz(func(t *testing.T, a, b, c, d string) {
		for _, cell := range []string{a, b, c, d} {
			if !utf8.ValidString(cell) {
				t.Skip() // no entry holds such text
			}
		}
		table := [][]string{{"h1", "h2"}, {a, b}, {c, d}}
		text := Write(table[0], table[1:])
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil {
			t.Fatalf("%v: %q", err, text)
		}
		ours := records(text, ",", 10)
		for i, row := range rows {
			for k, cell := range row {
				if !plainNumber(cell) && cell != "" && strings.ContainsRune("=+-@\t\r\n", rune(cell[0])) {
					t.Errorf("%q starts a formula", cell)
				}
				// A reader of CSV makes every line break LF.
				if want := strings.ReplaceAll(table[i][k], "\r\n", "\n"); unguard(cell) != want {
					t.Errorf("%q came back as %q", want, unguard(cell))
				}
			}
			for _, r := range ours {
				if r.line == 1 && !reflect.DeepEqual(r.cells, table[0]) {
					t.Errorf("the head came back as %q", r.cells)
				}
			}
		}
	})
}

// A row with stray quotes is told, with its line, and the others are read.
func TestQuotesThatDoNotMatch(t *testing.T) {
	text := "a,b\n1,2\n3,\"four\n5,6\n\"7\"x,8\n\n9,10\n"
	var lines []int
	var faults []int
	for _, r := range records(text, ",", 100) {
		lines = append(lines, r.line)
		if r.fault != "" {
			faults = append(faults, r.line)
		}
	}
	if !reflect.DeepEqual(lines, []int{1, 2, 3, 4, 5, 7}) || !reflect.DeepEqual(faults, []int{3, 5}) {
		t.Errorf("lines %v, faults %v", lines, faults)
	}
}

// Dates are compared with those of package time.
func TestMoment(t *testing.T) {
	for _, ms := range []int64{0, -1, 951_782_400_000, 951_868_799_999, 1_709_164_800_000, 4_102_444_800_000, 1_764_028_800_123} {
		want := time.UnixMilli(ms).UTC().Format("2006-01-02 15:04:05.999")
		if got := Moment(ms); got != want {
			t.Errorf("Moment(%d) = %s, want %s", ms, got, want)
		}
	}
	for day := int64(-800_000); day < 800_000; day += 97 {
		if got, want := Moment(day * dayMS)[:10], time.Unix(day*86400, 0).UTC().Format(time.DateOnly); day > -600_000 && got != want {
			t.Fatalf("day %d is %s, want %s", day, got, want)
		}
	}
}
