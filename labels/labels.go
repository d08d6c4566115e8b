// Package labels makes packwright's paper: label sheets, the charge checklist
// of an event day, and the blank test sheet for when phones fail.
//
// Use Sheet first: packs in, a PDF out. Each document is laid out as a drawing
// (drawing.go), a plain list of texts, boxes, lines and QR symbols in
// millimetres, and only then written as PDF (pdf.go). The same input gives the
// same bytes: nothing here reads a clock or keeps state.
//
// All ink is black: label printers have no grey, and thin greys die in a copier.
package labels

import (
	"io"

	"packwright/internal/problem"
)

// Pack is what paper says about one pack.
type Pack struct {
	Code       string  // six characters of Crockford's base 32
	Name       string  // any text a team types
	CapacityAh float64 // rated capacity, ampere hours; 0: not printed
	InService  string  // date in service, "2026-09-01"; empty: not printed
}

// Sheet writes a PDF of labels for the packs, Copies of each side by side.
//
// Errors a person can mend are *problem.Error: an unknown size or level, a
// start position that is not on the sheet, a code that is none, an address that
// cannot be printed small enough or is no plain address, and, where o.Warn is
// nil, a name with characters the font lacks. Nothing is written then.
func Sheet(w io.Writer, packs []Pack, o SheetOptions) error {
	return write(w, o.Warn, func(t *typesetter) (*drawing, error) {
		return layoutSheet(t, packs, o)
	})
}

// Checklist writes the charge checklist of an event day as a landscape PDF:
// packs down, matches across, over as many pages as it takes, and a page to log
// what is on which charger.
func Checklist(w io.Writer, o ChecklistOptions) error {
	return write(w, o.Warn, func(t *typesetter) (*drawing, error) {
		return layoutChecklist(t, o)
	})
}

// TestSheet writes one page to do a load test by hand: cautions, steps, fields
// for three repeats, and the formula. What is written on it can be typed in later.
func TestSheet(w io.Writer, o TestSheetOptions) error {
	return write(w, o.Warn, func(t *typesetter) (*drawing, error) {
		return layoutTestSheet(t, o)
	})
}

// write lays a document out and writes it; w gets the whole PDF or nothing.
func write(w io.Writer, warn func(string), layout func(*typesetter) (*drawing, error)) error {
	t, err := newTypesetter()
	if err != nil {
		return err
	}
	d, err := layout(t)
	if err != nil {
		return err
	}
	if warn == nil && len(t.substituted) > 0 {
		return t.substituted[0]
	}
	pdf, err := renderPDF(d)
	if err != nil {
		return err
	}
	if warn != nil {
		for _, p := range t.substituted {
			warn(p.Text + "; □ is printed in its place")
		}
		for _, text := range d.notes {
			warn(text)
		}
	}
	_, err = w.Write(pdf)
	return err
}

// checkPacks refuses codes that no scanner and no person could use, and gives
// the packs with their texts made printable.
func checkPacks(t *typesetter, packs []Pack) ([]Pack, error) {
	clean := make([]Pack, len(packs))
	for i, p := range packs {
		if !isCode(p.Code) {
			return nil, problem.Invalidf("pack", "a code is six characters, digits and capitals without I, L, O and U",
				"%q is not a pack code", p.Code)
		}
		// !(≥ 0) also catches a value that is not a number.
		if !(p.CapacityAh >= 0 && p.CapacityAh < 1000) {
			return nil, problem.Invalidf("capacity_ah", "give it in ampere hours, for example 3.0",
				"pack %s has a capacity of %g Ah", p.Code, p.CapacityAh)
		}
		clean[i] = Pack{
			Code:       p.Code,
			Name:       t.printable("the name of pack "+p.Code, p.Name),
			CapacityAh: p.CapacityAh,
			InService:  t.printable("the date of pack "+p.Code, p.InService),
		}
	}
	return clean, nil
}

// isCode tells whether s is written like a pack code. The check character is
// the journal's business: a pack with a foreign code can still be labelled.
func isCode(s string) bool {
	if len(s) != 6 {
		return false
	}
	for _, c := range s {
		digit := '0' <= c && c <= '9'
		letter := 'A' <= c && c <= 'Z' && c != 'I' && c != 'L' && c != 'O' && c != 'U'
		if !digit && !letter {
			return false
		}
	}
	return true
}

// grouped splits a code for reading aloud: "7K3 QX9".
func grouped(code string) string {
	if len(code) != 6 {
		return code
	}
	return code[:3] + " " + code[3:]
}
