package labels

import (
	"fmt"
	"strconv"

	"packwright/internal/problem"
)

// Measures of the checklist: a box to tick is 5 mm, a figure such as 12.84 by
// hand takes 13 mm.
const (
	listMarginMM = 9.0
	packColumnMM = 36.0
	matchMinMM   = 40.0
	rowMinMM     = 12.2
	rowMaxMM     = 16.0
	tickBoxMM    = 5.0
	emptyRows    = 12 // where no pack is named
	spareRows    = 2  // where the page has room: a borrowed pack always turns up
	emptyMatches = 6  // where no match is named
	maxRows      = 200
	maxMatches   = 200
	maxChargers  = 24
)

// chargingCautions are the usual cautions in short (common practice, no source).
const chargingCautions = "The charger’s and the cell maker’s instructions and the event’s rules come first. " +
	"Somebody stays with packs on charge. Charge on a surface that cannot burn, with air around. " +
	"Let a warm pack cool before it is charged. A pack that is swollen, leaking, hot or damaged is set aside: not charged, not fitted. " +
	"Students work with an adult present."

// checklist is what stays the same over the pages of one checklist.
type checklist struct {
	t     *typesetter
	title string
	date  string
	w, h  float64
	aside []string // lines beneath the rows
}

// layoutChecklist draws the matches' pages, block after block of matches, each
// with all packs, and the charger log last.
func layoutChecklist(t *typesetter, o ChecklistOptions) (*drawing, error) {
	h, w, err := paperOf(o.Paper) // landscape
	if err != nil {
		return nil, err
	}
	packs, err := checkPacks(t, o.Packs)
	if err != nil {
		return nil, err
	}
	matches, err := matchHeadings(t, o)
	if err != nil {
		return nil, err
	}
	switch {
	case len(packs) > maxRows:
		return nil, problem.New(problem.TooLarge, "print several lists", "%d packs are more than the %d of one list", len(packs), maxRows)
	case o.Chargers < 0 || o.Chargers > maxChargers:
		return nil, problem.Invalidf("chargers", fmt.Sprintf("choose 1 to %d", maxChargers), "cannot list %d chargers", o.Chargers)
	}
	c := checklist{t: t, title: t.printable("the title", o.Title), date: t.printable("the date", o.Date), w: w, h: h}
	if c.title == "" {
		c.title = "Charge checklist"
	}

	c.beneath(o.Aside)

	d := &drawing{title: c.title}
	columns := int((w - 2*listMarginMM - packColumnMM) / matchMinMM)
	rows := int((c.gridBottom() - gridTopMM) / rowMinMM)
	empty := spareRows
	if len(packs) == 0 {
		empty = emptyRows
	}
	packs = append(packs, make([]Pack, max(0, min(empty, rows-len(packs))))...)
	for _, block := range split(len(matches), columns) {
		for _, group := range split(len(packs), rows) {
			c.matchPage(d.addPage(w, h), packs[group.from:group.to], matches[block.from:block.to])
		}
	}
	chargers := o.Chargers
	if chargers == 0 {
		chargers = 4
	}
	for _, block := range split(chargers, chargersPerPage) {
		c.chargerPage(d.addPage(w, h), block)
	}
	for i, p := range d.pages {
		t.putRight(p, regular, 9, w-listMarginMM, 15, fmt.Sprintf("page %d of %d", i+1, len(d.pages)))
	}
	return d, nil
}

// matchHeadings gives the headings of the columns; empty ones are to write in.
func matchHeadings(t *typesetter, o ChecklistOptions) ([]string, error) {
	n := len(o.Matches)
	if n == 0 {
		n = o.MatchCount
	}
	if n < 0 || n > maxMatches {
		return nil, problem.Invalidf("matches", fmt.Sprintf("choose 1 to %d", maxMatches), "cannot list %d matches", n)
	}
	if n == 0 {
		return make([]string, emptyMatches), nil
	}
	headings := make([]string, n)
	for i := range headings {
		if len(o.Matches) > 0 {
			headings[i] = t.printable("a match", o.Matches[i])
		} else {
			headings[i] = strconv.Itoa(i + 1)
		}
	}
	return headings, nil
}

// span is a half-open range of indexes.
type span struct{ from, to int }

// split cuts n things into as few spans of at most perPage as it takes, all of
// nearly the same length, so that no page holds a single leftover.
func split(n, perPage int) []span {
	pages := (n + perPage - 1) / perPage
	spans := make([]span, pages)
	for i := range spans {
		spans[i] = span{i * n / pages, (i + 1) * n / pages}
	}
	return spans
}

const gridTopMM = 31.0 // under title, key and column headings

func (c checklist) gridBottom() float64 {
	return c.h - listMarginMM - 10 - float64(len(c.aside))*lineMM(asidePT)
}

const (
	asidePT    = 11.0
	mostAside  = 8 // lines
	asideGapMM = 4.6
)

// beneath breaks what is said of packs without a row into lines.
func (c *checklist) beneath(aside []string) {
	for _, s := range aside {
		c.aside = append(c.aside, c.t.wrap(bold, c.t.printable("a pack without a row", s), c.w-2*listMarginMM, asidePT)...)
	}
	if len(c.aside) > mostAside {
		c.aside = c.aside[:mostAside]
		c.aside[mostAside-1] += " " + ellipsis
	}
}

// heading draws title and date.
func (c checklist) heading(p *page, title string) {
	const dateMM = 82.0 // from the right edge
	c.t.putFit(p, bold, 15, 9, listMarginMM, 15, p.w-listMarginMM-dateMM-6, title)
	x := c.t.put(p, regular, 9, p.w-dateMM, 15, "date ")
	if c.date != "" {
		c.t.putFit(p, bold, 11, 7, x, 15, 42, c.date)
	} else {
		p.line(x, 15.6, x+34, 15.6, 0.2)
	}
}

// footing draws the cautions.
func (c checklist) footing(p *page) {
	c.t.paragraph(p, regular, 8, listMarginMM, c.h-listMarginMM-4, c.w-2*listMarginMM, chargingCautions)
}

// matchPage draws a grid of packs and matches.
func (c checklist) matchPage(p *page, packs []Pack, matches []string) {
	t := c.t
	c.heading(p, c.title)
	t.put(p, regular, 8, listMarginMM, 20.5,
		"Tick when done: charged, rested (an hour at least since charging), fitted in the robot. Write the volts before and after the match, and your initials.")

	left, right := listMarginMM, c.w-listMarginMM
	rowH := min(rowMaxMM, (c.gridBottom()-gridTopMM)/float64(len(packs)))
	bottom := gridTopMM + rowH*float64(len(packs))
	columnW := (right - left - packColumnMM) / float64(len(matches))
	headTop := gridTopMM - 8

	t.put(p, bold, 9, left+1.5, gridTopMM-2.5, "pack")
	for j, m := range matches {
		x := left + packColumnMM + float64(j)*columnW
		end := t.put(p, regular, 8, x+1.5, gridTopMM-2.5, "match ")
		timeX := x + columnW - 21
		if m != "" {
			t.putFit(p, bold, 12, 7, end, gridTopMM-2.5, timeX-end-1, m)
		}
		t.put(p, regular, 8, timeX, gridTopMM-2.5, "time")
		for i := range packs {
			c.cell(p, box{x, gridTopMM + float64(i)*rowH, columnW, rowH})
		}
	}
	for i, pack := range packs {
		y := gridTopMM + float64(i)*rowH
		c.packHead(p, box{left, y, packColumnMM, rowH}, pack)
		if i > 0 {
			p.line(left, y, right, y, 0.3)
		}
	}
	for j := range matches {
		x := left + packColumnMM + float64(j)*columnW
		p.line(x, headTop, x, gridTopMM, 0.5)
	}
	p.line(left, gridTopMM, right, gridTopMM, 0.5)
	p.rect(box{left, headTop, right - left, bottom - headTop}, 0.5)
	for i, line := range c.aside {
		t.putFit(p, bold, asidePT, 8, left, bottom+asideGapMM+float64(i)*lineMM(asidePT), right-left, line)
	}
	c.footing(p)
}

// packHead names the pack of a row.
func (c checklist) packHead(p *page, b box, pack Pack) {
	if pack.Code == "" { // a row to write in
		return
	}
	middle := b.y + b.h/2
	c.t.putCode(p, 13, b.x+1.5, middle-0.4, pack.Code)
	c.t.putFit(p, regular, 9, 6.5, b.x+1.5, middle+4, b.w-3, pack.Name)
}

// What is asked of one pack for one match: boxes to tick, fields to write in.
var (
	cellTicks  = [...]string{"charged", "rested", "fitted"}
	cellFields = [...]string{"V before", "V after", "initials"}
)

// cell draws its left edge, the boxes in its upper half and the fields in its lower.
func (c checklist) cell(p *page, b box) {
	p.line(b.x, b.y, b.x, b.bottom(), 0.5)
	third, half := b.w/3, b.h/2
	_, wordPT := c.t.fit(regular, cellTicks[0], third-tickBoxMM-1.6, 7.5, 5.5) // the longest of them
	for i, word := range cellTicks {
		x := b.x + float64(i)*third + 0.8
		p.rect(box{x, b.y + (half-tickBoxMM)/2, tickBoxMM, tickBoxMM}, 0.3)
		c.t.put(p, regular, wordPT, x+tickBoxMM+0.6, b.y+half/2+0.8, word)
	}
	p.line(b.x, b.y+half, b.right(), b.y+half, 0.1)
	for i, word := range cellFields {
		x := b.x + float64(i)*third
		if i > 0 {
			p.line(x, b.y+half, x, b.bottom(), 0.1)
		}
		c.t.put(p, regular, 5.8, x+0.6, b.y+half+2.1, word)
	}
}
