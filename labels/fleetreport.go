package labels

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"packwright/internal/problem"
)

const (
	fleetMarginMM = 10.0
	fleetRowMM    = 9.0
	fleetLeastMM  = 5.4
	mostAnswers   = 6

	lookPT        = 7.0
	lookStepMM    = 2.6
	mostLookLines = 5
	fewLookLines  = 2 // where there is no room

	mostBoxLines   = 12
	usualBoxLines  = 6 // more than these give way to what is to be looked at
	fewestBoxLines = 2
)

// fleetColumns are the columns of the table and their widths, millimetres; the
// last one takes what is left.
var fleetColumns = [...]struct {
	title string
	w     float64
}{{"pack", 37}, {"decision", 23}, {"R ± U", 27}, {limitColumn, 27}, {"volts to spare", 19}, {"reaches the limit", 27}, {"look at", 0}}

const limitColumn = "against the limit"

// layoutFleetReport draws the one page. What is under the table is laid out
// first, to see what is left for its rows.
func layoutFleetReport(t *typesetter, page FleetPage, o ReportOptions) (*drawing, error) {
	if len(page.Rows) == 0 {
		return nil, nothingToPrint()
	}
	if len(page.Answers) > mostAnswers {
		return nil, problem.New(problem.TooLarge, "ask fewer questions", "%d answers are more than %d", len(page.Answers), mostAnswers)
	}
	page, err := page.printable(t)
	if err != nil {
		return nil, err
	}
	t.wholeWords = true
	t.printables("the report", &o.Date, &o.Team)
	d := &drawing{title: page.Title}
	pen, err := newReportPage(t, d, o, fleetMarginMM)
	if err != nil {
		return nil, err
	}
	dated := strings.Trim(o.Team+" · "+o.Date, " ·")
	t.putRight(pen.p, regular, 9, pen.right, pen.y, dated)
	t.putFit(pen.p, bold, 17, 10, pen.left, pen.y, pen.right-pen.left-t.width(regular, 9, dated)-6, page.Title)
	pen.y += 6

	rest := page.Rows
	rows := rest[:min(len(rest), MostFleetRows)]
	worked := 0.0
	for _, s := range page.Worked {
		worked += float64(len(t.wrap(regular, "– "+s, pen.right-pen.left, 7.5))) * lineMM(7.5)
	}
	recycling := float64(len(t.wrap(regular, page.Recycling, pen.right-pen.left, 8)))*lineMM(8) + 2
	const headMM, titleMM = 9.0, 7.0
	look := pen.lookLines(rows)
	room := pen.bottom - pen.y - headMM - 2*lineMM(8) - recycling - titleMM
	if pen.boxesMM(page.Answers, usualBoxLines)+heightOf(look, fleetLeastMM) > room {
		for i := range look {
			look[i] = joined(look[i], fewLookLines)
		}
	}
	pen.answers(page.Answers, room-heightOf(look, fleetLeastMM))
	beyond := 0.0
	if len(rest) > len(rows) {
		beyond = 2 * lineMM(8)
	}
	most := pen.bottom - pen.y - headMM - beyond - recycling - titleMM
	rowMM := fleetRowMM
	for rowMM > fleetLeastMM && heightOf(look, rowMM) > most-worked {
		rowMM = max(rowMM-0.1, fleetLeastMM)
	}
	if heightOf(look, rowMM) > most-worked { // the explanation gives way, the packs do not
		d.notes = append(d.notes, "the page has no room for all of how it was worked out: the app shows it")
	}
	pen.table(rows, look, rowMM, page.LimitOhm)
	if len(rest) > len(rows) {
		pen.others(rest[len(rows):])
	}
	pen.y += 4
	pen.wrapped(regular, 8, pen.left, pen.right-pen.left, 3, page.Recycling)
	pen.worked(page.Worked)
	return d, nil
}

// printable checks the page and gives it with texts that can be printed.
func (p FleetPage) printable(t *typesetter) (FleetPage, error) {
	if p.Title = t.printable("the title", p.Title); p.Title == "" {
		p.Title = "The packs"
	}
	if !(p.LimitOhm >= 0 && p.LimitOhm <= mostOhm) {
		return p, problem.Invalidf("limit_ohm", "give it in ohm", "a limit of %g Ω cannot be drawn", p.LimitOhm)
	}
	p.Answers, p.Rows, p.Worked = slices.Clone(p.Answers), slices.Clone(p.Rows), slices.Clone(p.Worked)
	t.printables("the report", &p.Recycling)
	for i := range p.Answers {
		t.printables("an answer", &p.Answers[i].Question, &p.Answers[i].Answer, &p.Answers[i].More)
	}
	for i := range p.Worked {
		t.printables("the report", &p.Worked[i])
	}
	for i := range p.Rows {
		r := &p.Rows[i]
		packs, err := checkPacks(t, []Pack{r.Pack})
		if err != nil {
			return p, err
		}
		r.Pack = packs[0]
		for _, v := range []*float64{r.Ohm, r.PlusOhm} {
			if v != nil && !(math.Abs(*v) <= mostOhm) {
				return p, problem.Invalidf("ohm", "void that test", "%g Ω of pack %s cannot be drawn", *v, r.Pack.Code)
			}
		}
		t.printables("the row of pack "+r.Pack.Code, &r.Decision, &r.But, &r.Result, &r.Margin, &r.Capacity, &r.Crossing, &r.Change, &r.LookAt)
	}
	return p, nil
}

// answers draws the questions in boxes, two beside each other, with as many lines
// of what is below an answer as leave room for the packs.
func (r *reportPen) answers(list []FleetAnswer, roomMM float64) {
	lines := mostBoxLines
	for lines > fewestBoxLines && r.boxesMM(list, lines) > roomMM {
		lines--
	}
	r.boxes(list, lines)
}

// boxesMM is the height of the boxes, drawn elsewhere to be measured.
func (r *reportPen) boxesMM(list []FleetAnswer, lines int) float64 {
	elsewhere := *r
	elsewhere.p = new(drawing).addPage(r.p.w, r.p.h)
	elsewhere.boxes(list, lines)
	return elsewhere.y - r.y
}

func (r *reportPen) boxes(list []FleetAnswer, lines int) {
	const gapMM, padMM = 4.0, 2.5
	w := (r.right - r.left - gapMM) / 2
	for i := 0; i < len(list); i += 2 {
		top, bottom := r.y, r.y
		pair := list[i:min(i+2, len(list))]
		for k, a := range pair {
			x := r.left + float64(k)*(w+gapMM)
			r.y = top + 4.6
			r.t.putFit(r.p, regular, 8.5, 7, x+padMM, r.y, w-2*padMM, a.Question)
			r.y += 5.2
			r.wrapped(bold, 11, x+padMM, w-2*padMM, lines, a.Answer)
			if a.More != "" {
				r.y -= 0.6
				r.wrapped(regular, 8, x+padMM, w-2*padMM, lines, a.More)
			}
			bottom = max(bottom, r.y-1.6)
		}
		for k := range pair {
			r.p.rect(box{r.left + float64(k)*(w+gapMM), top, w, bottom - top}, 0.5)
		}
		r.y = bottom + 3
	}
}

// lookLines are the lines of what to look at, for each row.
func (r *reportPen) lookLines(rows []FleetRow) [][]string {
	w := r.right - r.left
	for _, c := range fleetColumns {
		w -= c.w
	}
	lines := make([][]string, len(rows))
	for i := range rows {
		lines[i] = joined(r.t.wrap(regular, rows[i].LookAt, w-1.5, lookPT), mostLookLines)
	}
	return lines
}

// joined leaves so many lines, with all that follows on the last of them.
func joined(lines []string, most int) []string {
	if len(lines) <= most {
		return lines
	}
	return append(slices.Clone(lines[:most-1]), strings.Join(lines[most-1:], " "))
}

// rowHeightMM is that of a row in which so many lines are to have room.
func rowHeightMM(look []string, rowMM float64) float64 {
	return max(rowMM, lookStepMM*float64(len(look))+0.2)
}

func heightOf(look [][]string, rowMM float64) float64 {
	sum := 0.0
	for _, lines := range look {
		sum += rowHeightMM(lines, rowMM)
	}
	return sum
}

// table draws the packs, each in a row of two lines or as many as look has.
func (r *reportPen) table(rows []FleetRow, look [][]string, rowMM, limitOhm float64) {
	y := r.y + 5
	x := r.left
	for _, c := range fleetColumns {
		title := c.title
		if title == limitColumn && limitOhm > 0 {
			title = "limit " + number(limitOhm) + " Ω"
		}
		r.t.putFit(r.p, regular, 7.5, 6, x+0.5, y, max(c.w, 12)-0.5, title)
		x += c.w
	}
	y += 1.6
	bar := newBar(rows, limitOhm)
	for i, row := range rows {
		h := rowHeightMM(look[i], rowMM)
		r.p.line(r.left, y, r.right, y, 0.15)
		r.row(row, look[i], y, h, bar)
		y += h
	}
	r.p.line(r.left, y, r.right, y, 0.3)
	r.y = y
}

func (r *reportPen) row(row FleetRow, look []string, y, rowMM float64, b *bar) {
	one, two := y+rowMM/2-0.5, y+rowMM/2+2.4
	x := r.left
	put := func(f face, sizePT, at, w float64, text string) {
		r.t.putFit(r.p, f, sizePT, sizePT-2, x+0.5, at, w-1.5, text)
	}
	for i, c := range fleetColumns {
		w := c.w
		if w == 0 {
			w = r.right - x
		}
		switch i {
		case 0:
			if row.Pack.Name == "" {
				put(mono, 9, one, w, grouped(row.Pack.Code))
			} else {
				put(bold, 9, one, w, row.Pack.Name)
				put(mono, 7, two, w, grouped(row.Pack.Code))
			}
		case 1:
			put(bold, 8, one, w, row.Decision)
			put(bold, 7, two, w, row.But)
		case 2:
			put(regular, 8, one, w, row.Result)
			if row.Capacity != "" {
				put(regular, 7, two, w, "capacity "+row.Capacity)
			}
		case 3:
			b.draw(r.p, box{x + 1, y + 0.4, w - 3, rowMM - 0.8}, row)
		case 4:
			put(regular, 8, one, w, row.Margin)
		case 5:
			put(regular, 8, one, w, row.Crossing)
			put(regular, 7, two, w, row.Change)
		case 6:
			at := y + rowMM/2 + 0.9 - lookStepMM*float64(len(look)-1)/2
			for _, l := range look {
				put(regular, lookPT, at, w, l)
				at += lookStepMM
			}
		}
		x += w
	}
}

// bar is the scale of the bars: the limit with half of it on either side, or
// from zero where a pack is far below.
type bar struct{ lowOhm, topOhm, limitOhm float64 }

func newBar(rows []FleetRow, limitOhm float64) *bar {
	b := &bar{lowOhm: limitOhm / 2, topOhm: 1.5 * limitOhm, limitOhm: limitOhm}
	for _, r := range rows {
		if r.Ohm == nil {
			continue
		}
		if *r.Ohm < b.lowOhm {
			b.lowOhm = 0
		}
		if limitOhm == 0 {
			b.topOhm = max(b.topOhm, *r.Ohm*1.2)
		}
	}
	return b
}

// draw draws R as a line with a mark, U as its ends, and the limit across.
func (b *bar) draw(p *page, in box, row FleetRow) {
	if b.topOhm <= 0 {
		return
	}
	at := func(ohm float64) float64 { return in.x + in.w*min(max((ohm-b.lowOhm)/(b.topOhm-b.lowOhm), 0), 1) }
	if b.limitOhm > 0 {
		p.line(at(b.limitOhm), in.y-0.4, at(b.limitOhm), in.bottom()+0.4, 0.6)
	}
	if row.Ohm == nil {
		return
	}
	middle := in.y + in.h/2
	if *row.Ohm > b.topOhm { // beyond: an arrow
		p.add(shape{points: []point{{in.right(), middle}, {in.right() - 2, middle - 1.1}, {in.right() - 2, middle + 1.1}}, lineMM: 0.2, closed: true, black: true})
		return
	}
	if row.PlusOhm != nil {
		from, to := at(*row.Ohm-*row.PlusOhm), at(*row.Ohm+*row.PlusOhm)
		p.line(from, middle, to, middle, 0.3)
		p.line(from, middle-0.9, from, middle+0.9, 0.3)
		p.line(to, middle-0.9, to, middle+0.9, 0.3)
	}
	p.add(diamond(at(*row.Ohm), middle, 1.1, true))
}

// others names the packs that have no row.
func (r *reportPen) others(rows []FleetRow) {
	var names []string
	for _, row := range rows {
		name := row.Pack.Name
		if name == "" {
			name = row.Pack.Code
		}
		names = append(names, name+" ("+row.Decision+")")
	}
	r.y += 4
	r.wrapped(regular, 8, r.left, r.right-r.left, 2, fmt.Sprintf("Not in the table, %d more: %s", len(rows), strings.Join(names, ", ")))
}

// worked draws how it was worked out, as far as there is room.
func (r *reportPen) worked(sentences []string) {
	if len(sentences) == 0 {
		return
	}
	r.t.put(r.p, bold, 9, r.left, r.y+2, "How it was worked out")
	r.y += 6
	for _, s := range sentences {
		room := int((r.bottom - r.y) / lineMM(7.5))
		if room < 1 {
			return
		}
		r.wrapped(regular, 7.5, r.left, r.right-r.left, room, "– "+s)
	}
}
