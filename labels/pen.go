package labels

import "strconv"

// sheetPen draws the test sheet from top to bottom.
type sheetPen struct {
	t           *typesetter
	p           *page
	left, right float64
	y           float64
}

// heading starts a section.
func (s *sheetPen) heading(words string) {
	s.t.put(s.p, bold, 11, s.left, s.y+4, words)
	s.y += 9
}

// field draws a word and a line to write on up to x2, with a unit at its end.
func (s *sheetPen) field(x, y, x2 float64, word, unit string) {
	x = s.t.put(s.p, regular, 9, x, y, word+" ")
	if unit != "" {
		x2 -= s.t.width(regular, 9, " "+unit)
		s.t.put(s.p, regular, 9, x2, y, " "+unit)
	}
	s.p.line(x, y+0.8, x2, y+0.8, 0.2)
}

// known draws a word with a figure that is known, or a line for it.
func (s *sheetPen) known(x, y, x2 float64, word string, value float64, unit string) {
	if value == 0 {
		s.field(x, y, x2, word, unit)
		return
	}
	x = s.t.put(s.p, regular, 9, x, y, word+" ")
	s.t.put(s.p, bold, 10, x, y, number(value)+" "+unit)
}

// ticks draws boxes to tick, each with its word.
func (s *sheetPen) ticks(x, y float64, words ...string) {
	for _, w := range words {
		s.p.rect(box{x, y - 3.8, 5, 5}, 0.3)
		x = s.t.put(s.p, regular, 9, x+6, y, w) + 4
	}
}

// number writes a figure as short as it is exact.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
