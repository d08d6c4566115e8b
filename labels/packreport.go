package labels

import (
	"fmt"
	"slices"
	"strings"

	"packwright/internal/problem"
)

const (
	mostPages       = 200
	historyRows     = 12
	fewestHistory   = 4
	historyRowMM    = 4.1
	workingRowMM    = 3.5
	workingWordsMM  = 3.0 // more, with the words above each formula
	plotMM          = 60.0
	plotMoreMM      = 45.0 // at most, where the page has room
	emptyPlotMM     = 20.0
	mostPlotMarks   = 6
	mostFullFinding = 3
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
	t.printables("the report", &o.Date, &o.Team)
	d := &drawing{title: "Pack report"}
	for i := range pages {
		page, err := pages[i].printable(t)
		if err != nil {
			return nil, err
		}
		// Once to see what is left over, which the plot then takes.
		left, err := layoutPackPage(t, &drawing{}, &page, o, plotMM)
		if err != nil {
			return nil, err
		}
		height := plotMM + min(max(left, 0), plotMoreMM)
		if len(page.Plot.Points) == 0 {
			height = emptyPlotMM
		}
		if _, err := layoutPackPage(t, d, &page, o, height); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// layoutPackPage draws one page and gives the height that stays empty.
func layoutPackPage(t *typesetter, d *drawing, page *PackPage, o ReportOptions, plotMM float64) (leftMM float64, err error) {
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
	pen.findings(page.Findings)
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
	r.wrapped(regular, 9, x, r.right-x, 2, page.Reason)
	if len(page.Next) > 0 {
		r.wrapped(bold, 9, x, r.right-x, 2, "Next: "+strings.Join(page.Next, "; "))
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
	for i, m := range marks[:min(len(marks), mostPlotMarks)] {
		column := i % 2
		half := (r.right - r.left) / 2
		x := r.left + float64(column)*half
		r.t.put(r.p, bold, 7.5, x, r.y, fmt.Sprintf("%d", i+1))
		r.t.putFit(r.p, regular, 7.5, 6, x+4.5, r.y, half-7, m.Words)
		if column == 1 || i == min(len(marks), mostPlotMarks)-1 {
			r.y += lineMM(7.5)
		}
	}
	if more := len(marks) - mostPlotMarks; more > 0 {
		r.t.put(r.p, regular, 7.5, r.left, r.y, fmt.Sprintf("%d later ones are in the app", more))
		r.y += lineMM(7.5)
	}
	r.y += 1.6
	r.wrapped(bold, 9, r.left, r.right-r.left, 2, page.Trend)
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
func (r *reportPen) findings(list []ReportFinding) {
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
		r.wrapped(regular, 8, r.left+4, w, 2, strings.Join(f.Evidence, " "))
		r.y += 0.6
	}
}

// lowerHalf draws the latest tests on the left and the latest one's working on
// the right, as many lines of both as there is room for, and gives what is left.
func (r *reportPen) lowerHalf(d *drawing, page *PackPage) (leftMM float64) {
	r.y += 2
	room := r.bottom - r.y - 9
	rows := max(min(int(room/historyRowMM), historyRows, len(page.Tests)), 0)
	if rows < min(fewestHistory, len(page.Tests)) {
		d.notes = append(d.notes, fmt.Sprintf("the report of pack %s has room for %d of its tests only", page.Pack.Code, rows))
	}
	middle := r.left + 100
	title := "Latest tests"
	if rows < len(page.Tests) {
		title = fmt.Sprintf("Latest %d of %d tests", rows, len(page.Tests))
	}
	r.t.put(r.p, bold, 10, r.left, r.y+2.5, title)
	r.history(page.Tests[:rows], middle-5)
	worked := r.working(page, middle, room)
	return room - max(float64(rows)*historyRowMM, worked)
}

func (r *reportPen) history(tests []ReportTest, right float64) {
	columns := []struct {
		title string
		w     float64
	}{{"date", 18}, {"R ± U", 29}, {"decision", 19}, {"by", 9}, {"", right - r.left - 75}}
	y := r.y + 7
	x := r.left
	for _, c := range columns {
		r.t.put(r.p, regular, 7, x, y, c.title)
		x += c.w
	}
	r.p.line(r.left, y+1.2, right, y+1.2, 0.3)
	for _, row := range tests {
		y += historyRowMM
		x = r.left
		for i, text := range []string{row.Date, row.Result, row.Decision, row.By, row.Note} {
			r.t.putFit(r.p, regular, 7.5, 5.5, x, y, columns[i].w-1, text)
			x += columns[i].w
		}
		r.p.line(r.left, y+1.2, right, y+1.2, 0.05)
	}
}

// working draws formula, numbers and result of each step, with its words above
// where there is room for them, and gives the height it took.
func (r *reportPen) working(page *PackPage, left, room float64) float64 {
	if len(page.Working) == 0 {
		return 0
	}
	r.t.putFit(r.p, bold, 10, 8, left, r.y+2.5, r.right-left, strings.TrimSpace("How the latest was worked out "+page.WorkedOn))
	y := r.y + 7
	rowMM, inWords := workingRowMM, false
	if float64(len(page.Working))*(workingRowMM+workingWordsMM) <= room {
		rowMM, inWords = workingRowMM+workingWordsMM, true
	}
	rows := min(int(room/rowMM), len(page.Working))
	if rows < len(page.Working) {
		rows = max(rows-1, 0)
	}
	for _, s := range page.Working[:rows] {
		words := s.Formula
		switch {
		case s.Formula == "" || s.Numbers == "as read" && !inWords:
			words = s.Label
		case s.Numbers != "":
			words += " = " + s.Numbers
		}
		if inWords {
			r.t.putFit(r.p, regular, 6.5, 5, left, y, r.right-left, s.Label)
			y += workingWordsMM
		}
		result, pt := r.t.fit(bold, s.Result, 34, 7, 5)
		r.t.putRight(r.p, bold, pt, r.right, y, result)
		r.t.putFit(r.p, regular, 7, 5, left, y, r.right-left-r.t.width(bold, pt, result)-2, words)
		y += workingRowMM
	}
	if rows < len(page.Working) {
		r.t.put(r.p, regular, 7, left, y, fmt.Sprintf("%d more lines are in the app", len(page.Working)-rows))
	}
	return float64(rows) * rowMM
}
