package labels

import (
	"fmt"
	"math"

	"packwright/internal/problem"
)

// What one document may hold: a slip of the finger should not keep a small
// machine busy.
const (
	maxCopies = 100
	maxLabels = 3000
)

// layoutSheet places the labels of the packs on pages.
func layoutSheet(t *typesetter, packs []Pack, o SheetOptions) (*drawing, error) {
	size, err := sizeOf(o.Size)
	if err != nil {
		return nil, err
	}
	if o, err = checkSheet(o, size, len(packs)); err != nil {
		return nil, err
	}
	base, err := baseAddress(o.BaseURL)
	if err != nil {
		return nil, err
	}
	if packs, err = checkPacks(t, packs); err != nil {
		return nil, err
	}

	d := &drawing{title: fmt.Sprintf("Pack labels (%d)", len(packs)*o.Copies)}
	if note := shortLived(base); note != "" {
		d.notes = append(d.notes, note)
	}
	if o.Ruler {
		layoutCheckPage(t, d.addPage(size.PageWMM, size.PageHMM), size, o)
	}
	var p *page
	position := o.Start - 1
	for _, pack := range packs {
		qr, err := newQR(payloadOf(base, pack.Code), o.Level)
		if err != nil {
			return nil, err
		}
		for range o.Copies {
			if position == size.PerPage() {
				p, position = nil, 0
			}
			if p == nil {
				p = d.addPage(size.PageWMM, size.PageHMM)
				if o.CutMarks && !size.Roll {
					cutMarks(p, size)
				}
			}
			if err := layoutLabel(t, p, size.content(size.label(position)), pack, qr); err != nil {
				return nil, err
			}
			position++
		}
	}
	if o.CutMarks && size.Roll {
		d.notes = append(d.notes, "cut marks are left out: on a roll the page is the label")
	}
	for _, p := range d.pages {
		p.moveBy(o.OffsetXMM, o.OffsetYMM)
	}
	return d, nil
}

// checkSheet fills in what was left out and refuses what cannot be printed.
func checkSheet(o SheetOptions, size Size, packs int) (SheetOptions, error) {
	if o.Start == 0 {
		o.Start = 1
	}
	if o.Copies == 0 {
		o.Copies = 1
	}
	if o.Level == "" {
		o.Level = "Q"
	}
	if size.Roll { // whole dots, or the printer rounds each module its own way
		o.OffsetXMM = math.Round(o.OffsetXMM/dotMM) * dotMM
		o.OffsetYMM = math.Round(o.OffsetYMM/dotMM) * dotMM
	}
	shift := max(math.Abs(o.OffsetXMM), math.Abs(o.OffsetYMM))
	maxShift := edgeMM // what stays white at the edge, so that nothing leaves the page
	if size.Roll {
		maxShift = insetMM
	}
	switch {
	case packs == 0:
		return o, problem.Invalidf("packs", "choose at least one pack", "there is no pack to print a label for")
	case o.Start < 1 || o.Start > size.PerPage():
		return o, problem.Invalidf("start", fmt.Sprintf("count the labels along the rows: 1 to %d", size.PerPage()),
			"label %d is not on the sheet", o.Start)
	case o.Copies < 1 || o.Copies > maxCopies:
		return o, problem.Invalidf("copies", fmt.Sprintf("choose 1 to %d", maxCopies), "cannot print %d copies of each label", o.Copies)
	case packs*o.Copies > maxLabels:
		return o, problem.New(problem.TooLarge, "print them in several files",
			"%d labels are more than the %d that one file may hold", packs*o.Copies, maxLabels)
	case !(shift <= maxShift): // also not a number
		return o, problem.Invalidf("offset", fmt.Sprintf("choose at most %g mm each way; more is for the printer’s own settings", maxShift),
			"an offset of %g mm and %g mm moves the print off the label", o.OffsetXMM, o.OffsetYMM)
	}
	return o, nil
}

// cutMarks draws a small cross at each corner of each label, where the printer
// reaches. Labels that touch share their crosses.
func cutMarks(p *page, size Size) {
	const arm = 1.5
	reach := box{edgeMM, edgeMM, size.PageWMM - 2*edgeMM, size.PageHMM - 2*edgeMM}
	done := map[[2]int]bool{}
	for i := range size.PerPage() {
		b := size.label(i)
		for _, at := range [][2]float64{{b.x, b.y}, {b.right(), b.y}, {b.x, b.bottom()}, {b.right(), b.bottom()}} {
			key := [2]int{int(math.Round(at[0] * 100)), int(math.Round(at[1] * 100))}
			if done[key] {
				continue
			}
			done[key] = true
			x1, x2 := max(at[0]-arm, reach.x), min(at[0]+arm, reach.right())
			y1, y2 := max(at[1]-arm, reach.y), min(at[1]+arm, reach.bottom())
			if x1 < x2 && reach.y <= at[1] && at[1] <= reach.bottom() {
				p.line(x1, at[1], x2, at[1], 0.1)
			}
			if y1 < y2 && reach.x <= at[0] && at[0] <= reach.right() {
				p.line(at[0], y1, at[0], y2, 0.1)
			}
		}
	}
}
