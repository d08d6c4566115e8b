package labels

import (
	"fmt"
	"strings"
)

// drawing is a document before it is a PDF. Lengths are millimetres from the
// page's top left corner, type sizes points (1/72 in).
type drawing struct {
	title string
	pages []*page
	notes []string // sentences for the person who prints it
}

// page is one page and what is drawn on it, in order.
type page struct {
	w, h  float64
	items []item
}

// item is text, rect, line, symbol or shape. String is its line in a golden file.
type item interface{ String() string }

// box is a rectangle, from its top left corner.
type box struct{ x, y, w, h float64 }

func (b box) right() float64  { return b.x + b.w }
func (b box) bottom() float64 { return b.y + b.h }

// text is one line of type. y is the baseline, w the advance width at that size.
type text struct {
	x, y, w   float64
	face      face
	sizePT    float64
	spacingMM float64 // added after each character
	s         string
}

// rect is a box with a line centred on its edge; white covers what is below.
type rect struct {
	box
	lineMM float64
	white  bool
}

// line is a straight line with butt ends.
type line struct{ x1, y1, x2, y2, lineMM float64 }

// symbol is a QR symbol. The box includes the quiet zone, which is white.
type symbol struct {
	box
	moduleMM float64
	qr       *qrCode
}

func (t text) String() string {
	spacing := ""
	if t.spacingMM != 0 {
		spacing = fmt.Sprintf(" spaced %.2f", t.spacingMM)
	}
	return fmt.Sprintf("text %.2f %.2f w %.2f %s %.1f pt%s %q", t.x, t.y, t.w, t.face, t.sizePT, spacing, t.s)
}

func (r rect) String() string {
	white := ""
	if r.white {
		white = " white"
	}
	return fmt.Sprintf("rect %.2f %.2f %.2f × %.2f line %.2f%s", r.x, r.y, r.w, r.h, r.lineMM, white)
}

func (l line) String() string {
	return fmt.Sprintf("line %.2f %.2f to %.2f %.2f line %.2f", l.x1, l.y1, l.x2, l.y2, l.lineMM)
}

func (s symbol) String() string {
	return fmt.Sprintf("qr   %.3f %.3f side %.3f module %.3f modules %d level %s %q",
		s.x, s.y, s.w, s.moduleMM, s.qr.modules(), s.qr.level, s.qr.payload)
}

// String writes the drawing as a golden file shows it.
func (d *drawing) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "title %q\n", d.title)
	for i, p := range d.pages {
		fmt.Fprintf(&b, "\npage %d: %.2f × %.2f mm\n", i+1, p.w, p.h)
		for _, it := range p.items {
			fmt.Fprintln(&b, it)
		}
	}
	for _, n := range d.notes {
		fmt.Fprintf(&b, "\nnote %s\n", n)
	}
	return b.String()
}

// addPage adds an empty page.
func (d *drawing) addPage(w, h float64) *page {
	p := &page{w: w, h: h}
	d.pages = append(d.pages, p)
	return p
}

func (p *page) add(it item) { p.items = append(p.items, it) }

func (p *page) line(x1, y1, x2, y2, lineMM float64) { p.add(line{x1, y1, x2, y2, lineMM}) }

func (p *page) rect(b box, lineMM float64) { p.add(rect{box: b, lineMM: lineMM}) }

// moveBy shifts everything on the page.
func (p *page) moveBy(dx, dy float64) {
	for i, it := range p.items {
		switch it := it.(type) {
		case text:
			it.x, it.y = it.x+dx, it.y+dy
			p.items[i] = it
		case rect:
			it.x, it.y = it.x+dx, it.y+dy
			p.items[i] = it
		case line:
			it.x1, it.x2, it.y1, it.y2 = it.x1+dx, it.x2+dx, it.y1+dy, it.y2+dy
			p.items[i] = it
		case symbol:
			it.x, it.y = it.x+dx, it.y+dy
			p.items[i] = it
		case shape:
			p.items[i] = it.movedBy(dx, dy)
		}
	}
}
