package labels

import (
	"fmt"
	"math"
	"strings"

	"github.com/jung-kurt/gofpdf"
)

// point is a place on the page, in millimetres.
type point struct{ x, y float64 }

// shape is an open line through points, or a closed one that is black or white.
type shape struct {
	points []point
	lineMM float64
	closed bool
	black  bool // filled; a closed shape that is not is white
}

func (s shape) String() string {
	var b strings.Builder
	kind := "path"
	switch {
	case s.black:
		kind = "black"
	case s.closed:
		kind = "white"
	}
	fmt.Fprintf(&b, "%s line %.2f", kind, s.lineMM)
	for _, p := range s.points {
		fmt.Fprintf(&b, " %.2f,%.2f", p.x, p.y)
	}
	return b.String()
}

func (s shape) movedBy(dx, dy float64) shape {
	moved := make([]point, len(s.points))
	for i, p := range s.points {
		moved[i] = point{p.x + dx, p.y + dy}
	}
	s.points = moved
	return s
}

func drawShape(pdf *gofpdf.Fpdf, s shape) {
	pdf.SetLineWidth(s.lineMM)
	for i, p := range s.points {
		if i == 0 {
			pdf.MoveTo(p.x, p.y)
			continue
		}
		pdf.LineTo(p.x, p.y)
	}
	if !s.closed {
		pdf.DrawPath("D")
		return
	}
	pdf.ClosePath()
	grey := 255
	if s.black {
		grey = 0
	}
	pdf.SetFillColor(grey, grey, grey)
	pdf.DrawPath("FD")
}

// diamond is a mark of a value.
func diamond(x, y, r float64, black bool) shape {
	return shape{points: []point{{x, y - r}, {x + r, y}, {x, y + r}, {x - r, y}}, lineMM: 0.25, closed: true, black: black}
}

// dashes draws a broken line.
func (p *page) dashes(a, b point, onMM, offMM, lineMM float64) {
	dx, dy := b.x-a.x, b.y-a.y
	length := math.Hypot(dx, dy)
	if length == 0 {
		return
	}
	for at := 0.0; at < length; at += onMM + offMM {
		end := min(at+onMM, length)
		p.line(a.x+dx*at/length, a.y+dy*at/length, a.x+dx*end/length, a.y+dy*end/length, lineMM)
	}
}
