// Package sheet carries tests to and from spreadsheets.
//
// Use Look first, for a table of old tests that a team kept before: it finds
// out how the table is written, proposes what each column is, and makes of every
// row the body of an entry or a sentence that says why not. A person corrects
// the Plan and asks again; nothing is kept before that. Tests, Packs, Charges
// and Repairs make tables, and Write makes text of them. What Tests and Write
// made is read back by Look to the same bodies.
package sheet

import (
	"strings"
	"unicode/utf8"
)

// Write writes a table as RFC 4180 asks: commas, CRLF, quotes where a cell needs
// them. A cell that a spreadsheet would run as a formula gets an apostrophe
// before it, as OWASP recommends against "CSV injection"; plain numbers such
// as −0.01 are left alone. Look takes the apostrophes off again.
func Write(head []string, rows [][]string) string {
	var b strings.Builder
	writeRow(&b, head)
	for _, row := range rows {
		writeRow(&b, row)
	}
	return b.String()
}

func writeRow(b *strings.Builder, cells []string) {
	for i, cell := range cells {
		if i > 0 {
			b.WriteByte(',')
		}
		cell = guard(cell)
		// Semicolon and tab part cells where a spreadsheet expects those; a lone
		// empty cell would be an empty line.
		if strings.ContainsAny(cell, "\",;\t\r\n") || strings.TrimSpace(cell) != cell || cell == "" && len(cells) == 1 {
			b.WriteByte('"')
			b.WriteString(strings.ReplaceAll(cell, `"`, `""`))
			b.WriteByte('"')
			continue
		}
		b.WriteString(cell)
	}
	b.WriteString("\r\n")
}

// The characters that OWASP names: a cell that begins with one may be run. The
// wide forms count as well where Japanese is set (from memory); blanks only at
// the start of a whole cell.
const (
	starters = "=+-@＝＋－＠"
	blanks   = "\t\r\n"
)

// guard puts an apostrophe before each start of a formula: at the start of the
// cell, and after what parts cells or rows where a spreadsheet is set to other
// separators. One that is there already, before such a start, is doubled, so
// that unguard can tell.
func guard(cell string) string {
	if plainNumber(cell) || !strings.ContainsAny(cell, starters+blanks) {
		return cell
	}
	var b strings.Builder
	start := true
	for i, r := range cell {
		if start && dangerous(cell, i) {
			b.WriteByte('\'')
		}
		b.WriteRune(r)
		start = parts(r)
	}
	return b.String()
}

// unguard takes the apostrophes of guard off.
func unguard(cell string) string {
	if !strings.Contains(cell, "'") {
		return cell
	}
	var b strings.Builder
	start := true
	for i, r := range cell {
		if start && r == '\'' && dangerous(cell, i) {
			start = false
			continue
		}
		b.WriteRune(r)
		start = parts(r)
	}
	return b.String()
}

// parts tells whether r ends a cell or a row in some spreadsheet.
func parts(r rune) bool { return r == ';' || r == '\t' || r == '\r' || r == '\n' }

// dangerous tells whether what follows in a cell, past any apostrophes, starts a
// formula.
func dangerous(cell string, from int) bool {
	r, _ := utf8.DecodeRuneInString(strings.TrimLeft(cell[from:], "'"))
	return r != utf8.RuneError && (strings.ContainsRune(starters, r) || from == 0 && strings.ContainsRune(blanks, r))
}

// plainNumber tells a number such as -0.01 or +2.5e-3 from a formula.
func plainNumber(cell string) bool {
	rest := strings.TrimLeft(cell, "+-")
	if len(cell)-len(rest) > 1 || rest == "" {
		return false
	}
	mantissa, exponent, hasExponent := strings.Cut(strings.ToLower(rest), "e")
	whole, decimals, _ := strings.Cut(mantissa, ".")
	if hasExponent {
		exponent = strings.TrimLeft(exponent, "+-")
		if !onlyDigits(exponent) {
			return false
		}
	}
	return onlyDigits(whole) && (decimals == "" || onlyDigits(decimals))
}

func onlyDigits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }
