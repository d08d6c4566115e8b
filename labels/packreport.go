package labels

import (
	"fmt"
	"slices"
	"strings"

	"packwright/internal/problem"
)

const (
	mostPages        = 200
	historyRows      = 12
	fewestHistory    = 4
	historyRowMM     = 4.1
	workingRowMM     = 3.5
	workingWordsMM   = 3.0 // more, with the words above each formula
	plotMM           = 60.0
	plotMoreMM       = 45.0 // at most, where the page has room
	emptyPlotMM      = 20.0
	mostPlotMarks    = 6
	mostFullFinding  = 3
	mostReason       = 4 // lines
	mostEvidence     = 8 // lines of a finding
	fewestEvidence   = 2
	mostMarkLines    = 2
	mostWorkingLines = 3
	noteMM           = 2.8 // of a note in lines of its own
	mostNoteLines    = 3
)

// plainIndexes writes what the formulas of a working have and the fonts lack.
var plainIndexes = strings.NewReplacer("ᵢ", "_i", "ⱼ", "_j")

// layoutPackReport draws a page for each pack.
func layoutPackReport(t *typesetter, pages []PackPage, o ReportOptions) (*drawing, error) {
	if len(pages) == 0 {
		return nil, nothingToPrint()
	}
	if len(pages) > mostPages {
		return nil, problem.New(problem.TooLarge, "print fewer packs at once", "%d pages are more than %d", len(pages), mostPages)
	}
	t.wholeWords = true
	t.printables("the report", &o.Date, &o.Team)
	d := &drawing{title: "Pack report"}
	for i := range pages {
		page, err := pages[i].printable(t)
		if err != nil {
			return nil, err
		}
		// First to see how much of the evidence there is room for, and what is left
		// over, which the plot then takes.
		lines, left := mostEvidence, 0.0
		for ; ; lines-- {
			tried := &drawing{}
			if left, err = layoutPackPage(t, tried, &page, o, plotMM, lines); err != nil {
				return nil, err
			}
			if lines == fewestEvidence || len(tried.notes) == 0 {
				break
			}
		}
		height := plotMM + min(max(left, 0), plotMoreMM)
		if len(page.Plot.Points) == 0 {
			height = emptyPlotMM
		}
		if _, err := layoutPackPage(t, d, &page, o, height, lines); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// layoutPackPage draws one page, with so many lines of evidence for a finding at
// most, and gives the height that stays empty.
func layoutPackPage(t *typesetter, d *drawing, page *PackPage, o ReportOptions, plotMM float64, evidence int) (leftMM float64, err error) {
	pen, err := newReportPage(t, d, o, 15)
	if err != nil {
		return 0, err
	}
	pen.packHead(page, o)
	pen.decision(page)
	pen.plot(page, plotMM)
	if len(page.Tests)+len(page.Findings) == 0 {
		return 0, nil // there is nothing yet to say
	}
	pen.findings(page.Findings, evidence)
	return pen.lowerHalf(d, page), nil
}

// printable checks a page and gives it with texts that can be printed.
func (p PackPage) printable(t *typesetter) (PackPage, error) {
	packs, err := checkPacks(t, []Pack{p.Pack})
	if err != nil {
		return p, err
	}
	if err := p.Plot.check(); err != nil {
		return p, err
	}
	p.Pack = packs[0]
	what := "the report of pack " + p.Pack.Code
	t.printables(what, &p.Decision, &p.Reason, &p.Trend, &p.WorkedOn)
	clean := func(list []string) []string {
		list = slices.Clone(list)
		for i := range list {
			list[i] = t.printable(what, list[i])
		}
		return list
	}
	p.Details, p.Next = clean(p.Details), clean(p.Next)
	p.Findings, p.Tests, p.Working, p.Plot.Marks = slices.Clone(p.Findings), slices.Clone(p.Tests), slices.Clone(p.Working), slices.Clone(p.Plot.Marks)
	for i := range p.Findings {
		f := &p.Findings[i]
		t.printables(what, &f.Title, &f.Action)
		f.Evidence = clean(f.Evidence)
	}
	p.Tests = p.Tests[:min(len(p.Tests), 1000)]
	for i := range p.Tests[:min(len(p.Tests), historyRows)] {
		row := &p.Tests[i]
		t.printables(what, &row.Date, &row.Result, &row.Decision, &row.By, &row.Note)
	}
	for i := range p.Working {
		s := &p.Working[i]
		for _, text := range []*string{&s.Label, &s.Formula, &s.Numbers, &s.Result} {
			*text = t.printable(what, plainIndexes.Replace(*text))
		}
	}
	for i := range p.Plot.Marks {
		p.Plot.Marks[i].Words = t.printable(what, p.Plot.Marks[i].Words)
	}
	return p, nil
}

// packHead names the pack.
func (r *reportPen) packHead(page *PackPage, o ReportOptions) {
	dated := strings.Trim(o.Team+" · "+o.Date, " ·")
	r.t.putRight(r.p, regular, 9, r.right, r.y, dated)
	room := r.right - r.left - r.t.width(regular, 9, dated) - 6
	code := r.t.codeText(15, page.Pack.Code)
	name, pt := r.t.fit(bold, page.Pack.Name, room-code.w-5, 19, 9)
	x := r.left
	if name != "" {
		x = r.t.put(r.p, bold, pt, x, r.y, name) + 5
	}
	code.x, code.y = x, r.y
	r.p.add(code)
	r.y += 6
	r.t.putFit(r.p, regular, 9, 6.5, r.left, r.y, r.right-r.left, strings.Join(page.Details, " · "))
	r.y += 4
}

// decision draws what the pack may be used for, and why.
func (r *reportPen) decision(page *PackPage) {
	top := r.y
	words, pt := r.t.fit(bold, strings.ToUpper(page.Decision), 52, 15, 8)
	w := r.t.width(bold, pt, words) + 6
	r.t.put(r.p, bold, pt, r.left+3, top+7, words)
	r.p.rect(box{r.left, top, w, 10}, 0.8)
	x := r.left + w + 4
	r.y = top + 3.4
	r.wrapped(regular, 9, x, r.right-x, mostReason, page.Reason)
	if len(page.Next) > 0 {
		r.wrapped(bold, 9, x, r.right-x, mostReason, "Next: "+strings.Join(page.Next, "; "))
	}
	r.y = max(r.y, top+13)
}

// plot draws the resistance over time, what its signs mean, and what happened.
func (r *reportPen) plot(page *PackPage, heightMM float64) {
	marks := drawPlot(r.t, r.p, box{r.left, r.y, r.right - r.left, heightMM}, &page.Plot)
	r.y += heightMM + 3.5
	if len(page.Plot.Points) > 0 {
		r.legend(&page.Plot)
	}
	r.marks(marks[:min(len(marks), mostPlotMarks)])
	if more := len(marks) - mostPlotMarks; more > 0 {
		r.t.put(r.p, regular, 7.5, r.left, r.y, fmt.Sprintf("%d later ones are in the app", more))
		r.y += lineMM(7.5)
	}
	r.y += 1.6
	r.wrapped(bold, 9, r.left, r.right-r.left, mostReason, page.Trend)
}

// marks says what happened, two beside each other where they are short.
func (r *reportPen) marks(list []PlotMark) {
	half := (r.right - r.left) / 2
	column := 0
	next := func() {
		r.y += lineMM(7.5)
		column = 0
	}
	for i, m := range list {
		long := r.t.width(regular, 6, m.Words) > half-7
		if long && column == 1 {
			next()
		}
		x := r.left + float64(column)*half
		r.t.put(r.p, bold, 7.5, x, r.y, fmt.Sprintf("%d", i+1))
		if long {
			r.wrapped(regular, 7.5, x+4.5, r.right-x-4.5, mostMarkLines, m.Words)
			continue
		}
		r.t.putFit(r.p, regular, 7.5, 6, x+4.5, r.y, half-7, m.Words)
		if column++; column == 2 {
			next()
		}
	}
	if column == 1 {
		next()
	}
}

// legend says what the signs of the plot mean; only those that are in it.
func (r *reportPen) legend(o *Plot) {
	x, y := r.left, r.y
	say := func(words string) { x = r.t.put(r.p, regular, 7.5, x, y, words) + 5 }
	used := slices.ContainsFunc(o.Points, func(p PlotPoint) bool { return p.Used })
	aside := slices.ContainsFunc(o.Points, func(p PlotPoint) bool { return !p.Used })
	if used {
		r.p.add(diamond(x+1, y-0.9, 1, true))
		x += 3
		say("test, with its uncertainty")
	}
	if aside {
		r.p.add(diamond(x+1, y-0.9, 1, false))
		x += 3
		say("not compared")
	}
	if len(o.Band) > 0 {
		r.p.line(x, y-0.9, x+6, y-0.9, 0.4)
		x += 7
		say("trend, hatched: 95 %, broken: ahead")
	}
	if o.LikelyMS != nil {
		r.p.line(x, y-0.9, x+6, y-0.9, 1.2)
		r.p.add(diamond(x+3, y-0.9, 1.3, false))
		x += 7
		say("likely day over the limit, and its range")
	}
	r.y += lineMM(7.5) + 0.5
}

// findings draws what the history points to, the most serious in full.
func (r *reportPen) findings(list []ReportFinding, evidence int) {
	r.y += 1.5
	r.t.put(r.p, bold, 10, r.left, r.y+2.5, "What its history points to")
	r.y += 7
	if len(list) == 0 {
		r.wrapped(regular, 8.5, r.left, r.right-r.left, 1, "Nothing out of the ordinary.")
	}
	w := r.right - r.left - 4
	for i, f := range list {
		title := f.Title
		if f.Past {
			title += ", past"
		}
		if i >= mostFullFinding {
			var rest []string
			for _, f := range list[i:] {
				rest = append(rest, f.Title)
			}
			r.wrapped(regular, 8.5, r.left, w, 1, "Also, in the app: "+strings.Join(rest, "; "))
			break
		}
		r.p.add(diamond(r.left+1.2, r.y-1, 1.1, !f.Past))
		titlePT := 8.5
		title, titlePT = r.t.fit(bold, title, w, titlePT, 6.5)
		x := r.t.put(r.p, bold, titlePT, r.left+4, r.y, title) + 3
		switch action := "→ " + f.Action; { // never cut short: it may be what keeps people safe
		case f.Action == "" || f.Past:
			r.y += lineMM(8.5)
		case r.t.width(bold, 8.5, action) <= r.right-x:
			r.t.put(r.p, bold, 8.5, x, r.y, action)
			r.y += lineMM(8.5)
		default:
			r.y += lineMM(8.5)
			r.wrapped(bold, 8.5, r.left+4, w, 3, action)
		}
		r.wrapped(regular, 8, r.left+4, w, evidence, strings.Join(f.Evidence, " "))
		r.y += 0.6
	}
}
