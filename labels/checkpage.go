package labels

import (
	"fmt"
	"math"
)

// layoutCheckPage draws the page that shows whether the printer keeps the size
// and where it puts the labels: rulers, crosses, the labels' outlines. It is for
// plain paper, so that no label is wasted.
func layoutCheckPage(t *typesetter, p *page, size Size, o SheetOptions) {
	if size.Roll {
		layoutRollCheck(t, p)
		return
	}
	for i := range size.PerPage() {
		p.rect(size.label(i), 0.1)
	}
	const cross, arm = 10.0, 4.0
	for _, x := range []float64{cross, p.w - cross} {
		for _, y := range []float64{cross, p.h - cross} {
			p.line(x-arm, y, x+arm, y, 0.2)
			p.line(x, y-arm, x, y+arm, 0.2)
		}
	}

	const w, h, margin = 132.0, 162.0, 14.0
	panel := box{(p.w - w) / 2, (p.h - h) / 2, w, h}
	p.add(rect{box: panel, lineMM: 0.4, white: true})
	x, y := panel.x+margin, panel.y+margin+3
	t.put(p, bold, 14, x, y, "Check page: print it on plain paper first")
	t.put(p, regular, 9.5, x, y+8, "Print at 100 % (“actual size”), never “fit to page”.")
	horizontalRuler(p, x, y+19, 100)
	t.put(p, bold, 9.5, x, y+25.5, "measure: this line is 100 mm")
	verticalRuler(p, x, y+32, 100)

	x, w2 := x+18, w-2*margin-18
	t.put(p, bold, 9.5, x, y+36, "measure: this line is 100 mm")
	y += 45
	for _, s := range []string{
		"If a line is longer or shorter, the printer has scaled the page. Find that setting and print this page again, before any label.",
		fmt.Sprintf("Then hold this page on a sheet of labels against the light: the outlines lie on the labels, "+
			"and the crosses are %g mm from the edges of the paper.", cross),
		"If all of it is off to one side, measure how far and change the offset by that: it is under “Printer shifts the print”. Right and down are positive.",
		fmt.Sprintf("This page was made with an offset of %g mm to the right and %g mm down.", o.OffsetXMM, o.OffsetYMM),
	} {
		y = t.paragraph(p, regular, 9.5, x, y, w2, s) + 9
	}
}

// layoutRollCheck draws the longest ruler of whole centimetres on one label.
func layoutRollCheck(t *typesetter, p *page) {
	length := math.Floor((p.w-2*insetMM)/10) * 10
	x := (p.w - length) / 2
	horizontalRuler(p, x, 9, length)
	w := p.w - x - insetMM
	t.putFit(p, bold, 8.5, 6, x, 15, w, fmt.Sprintf("measure: this line is %g mm", length))
	t.putFit(p, regular, 7.5, 6, x, 19.5, w, "print at 100 % (“actual size”)")
	t.putFit(p, regular, 7.5, 6, x, 23.5, w, fmt.Sprintf("label %g × %g mm", p.w, p.h))
}

// horizontalRuler draws a line with a mark each 10 mm. Its length is measured
// from the middle of the first mark to the middle of the last.
func horizontalRuler(p *page, x, y, length float64) {
	p.line(x, y, x+length, y, 0.2)
	for at := 0.0; at <= length; at += 10 {
		p.line(x+at, y-tick(at, length), x+at, y+0.1, 0.2)
	}
}

// verticalRuler is the same, downwards.
func verticalRuler(p *page, x, y, length float64) {
	p.line(x, y, x, y+length, 0.2)
	for at := 0.0; at <= length; at += 10 {
		p.line(x-0.1, y+at, x+tick(at, length), y+at, 0.2)
	}
}

// tick is the height of a ruler's mark: its ends stand out.
func tick(at, length float64) float64 {
	if at == 0 || at == length {
		return 5
	}
	return 2
}
