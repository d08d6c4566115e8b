package labels

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"
)

const aDayMS = 86_400_000

// aPackPage is an invented pack with a season of tests, a repair and a forecast.
func aPackPage() PackPage {
	start := int64(1_767_225_600_000) // 2026-01-01
	p := PackPage{
		Pack:     Pack{Code: "M4K2TW", Name: "Blue 1", CapacityAh: 3, InService: "2025-09-01"},
		Details:  []string{"10 cells", "3 Ah rated", "in service since 2025-09-01", "fuse 30 A", "lead 2.5 mm², 350 mm"},
		Decision: "competition",
		Reason:   "0.0860 Ω ± 0.0062 Ω is below the limit of 0.1 Ω with a probability of 99.98 %.",
		Next:     []string{"test again before the event"},
		Trend:    "It rises by 0.12 mΩ a day and crosses the limit in February 2027, likely between 20 Dec 2026 and 14 May 2027.",
		Findings: []ReportFinding{
			{Title: "Contact or lead (likely)", Past: true, Action: "Crimp it anew.", Evidence: []string{"0.118 Ω on 2026-04-01 against 0.079 Ω before: 0.039 Ω more, and the scatter within the test of 0.012 Ω is more than the meter explains (0.002 Ω)."}},
			{Title: "Cells are ageing (possible)", Action: "Keep testing it monthly.", Evidence: []string{"It rose by 14 % in 200 days, steadily.", "Its open-circuit voltage is that of its sisters."}},
		},
		WorkedOn: "(2026-11-20)",
	}
	for i := range 24 {
		ohm := 0.075 + 0.0005*float64(i) + 0.002*math.Sin(float64(7*i))
		used := true
		if i == 9 {
			ohm, used = 0.118, false
		}
		at := start + int64(i)*14*aDayMS
		p.Plot.Points = append(p.Plot.Points, PlotPoint{AtMS: at, Ohm: ohm, PlusOhm: 0.006, Used: used})
		p.Tests = append([]ReportTest{{Date: "2026-" + strconv.Itoa(1+i/2), Result: "0.0860 Ω ± 0.0062 Ω", Decision: "competition", By: "AB", Note: "after the second match"}}, p.Tests...)
	}
	for i := range 40 {
		at := start + int64(i)*12*aDayMS
		mid := 0.075 + 0.00043*float64(i)
		p.Plot.Band = append(p.Plot.Band, PlotBand{AtMS: at, Ohm: mid, LowOhm: mid - 0.002 - 0.0001*math.Abs(float64(i-12)), HighOhm: mid + 0.002 + 0.0001*math.Abs(float64(i-12)), Ahead: i > 27})
	}
	likely, early, late := start+400*int64(aDayMS), start+370*int64(aDayMS), start+470*int64(aDayMS)
	p.Plot.LimitOhm, p.Plot.LikelyMS, p.Plot.EarliestMS, p.Plot.LatestMS = 0.1, &likely, &early, &late
	p.Plot.Marks = []PlotMark{{AtMS: start + 130*aDayMS, Words: "2026-05-11 connector repaired: new crimps on both contacts"}, {AtMS: start + 126*aDayMS, Words: "2026-05-07 contact or lead"}}
	for _, s := range strings.Split("open-circuit voltage, mean of 3|V0 = Σ V0ᵢ / n|(12.84 + 12.83 + 12.84) V / 3|12.837 V;voltage on load, mean of 3|V1 = Σ V1ᵢ / n|(12.72 + 12.72 + 12.71) V / 3|12.717 V;"+
		"sag|ΔV = V0 − V1|12.837 V − 12.717 V|0.12 V;current through the load|I = V1 / (R_L + r_w)|12.717 V / (10 Ω + 0 Ω)|1.2717 A;resistance of the pack|R = ΔV / I|0.12 V / 1.2717 A|0.094362 Ω;"+
		"tolerance of the load|u(R_L) = R_L · a / √3|10 Ω · 1 % / √3|0.0577 Ω;last digits of the display|u = n · d / √3|1 · 0.001 V / √3|0.00058 V;combined|u(R) = √Σ uᵢ²|√(0.0031² + 0.0005²) Ω|0.0031 Ω;expanded|U = k · u|2 · 0.0031 Ω|0.0062 Ω", ";") {
		f := strings.Split(s, "|")
		p.Working = append(p.Working, ReportStep{f[0], f[1], f[2], f[3]})
	}
	return p
}

// aFleetPage is an invented fleet of n packs.
func aFleetPage(n int) FleetPage {
	p := FleetPage{
		Title: "Packs for the Winter Cup, 2027-02-13", LimitOhm: 0.1,
		Answers: []FleetAnswer{
			{Question: "Which packs go to the next event?", Answer: "Blue 1, Blue 2, Blue 3, Green 1, Green 2", More: "5 of the 8 wanted."},
			{Question: "Which lead wants new crimps?", Answer: "Red 2", More: "Contact or lead: 0.031 Ω more since 2026-10-03, and it scatters."},
			{Question: "Which pack lost a cell?", Answer: "Grey 4", More: "1.2 V short of its sisters since 2026-11-01."},
			{Question: "How many to buy, and by when?", Answer: "3 packs by 2026-12-28, 177.00 €", More: "Then 8 packs are fit on 2027-02-13 with 95 %; without buying with 4 %."},
		},
		Worked:    []string{"R is worked out from each test, with its uncertainty.", "A pack goes to the event where R is below the limit with 95 % probability.", "The number on the day comes from each pack's trend; packs without one are taken as they are today.", "Sen's slope and the test of Mann and Kendall say whether a pack rises."},
		Recycling: "Packs at their end: insulate the terminals, and hand them in where local rules say; never into household waste.",
	}
	for i, pack := range manyPacks(n) {
		ohm, plus := 0.07+0.004*float64(i), 0.007
		row := FleetRow{Pack: pack, Decision: []string{"competition", "retest", "practice", "set aside"}[i%4], Result: "0.0860 Ω ± 0.0062 Ω", Ohm: &ohm, PlusOhm: &plus,
			Margin: "+1.23 V", Capacity: "92 %", Crossing: "Mar 2027", Change: "+2.1 % a month"}
		if i%5 == 1 {
			row.LookAt = "Contact or lead (likely); It holds less than it should"
		}
		if i%7 == 3 {
			row.Ohm, row.PlusOhm, row.Result, row.Crossing, row.Change = nil, nil, "not tested", "too few tests", ""
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

func packReportOf(t testing.TB, o ReportOptions, pages ...PackPage) *drawing {
	return layOut(t, func(ts *typesetter) (*drawing, error) { return layoutPackReport(ts, pages, o) })
}

func fleetReportOf(t testing.TB, o ReportOptions, page FleetPage) *drawing {
	return layOut(t, func(ts *typesetter) (*drawing, error) { return layoutFleetReport(ts, page, o) })
}

var someReport = ReportOptions{Date: "2026-11-25", Team: "Invented School"}

func TestReportLayout(t *testing.T) {
	letter := someReport
	letter.Paper = "Letter"
	golden(t, "report-pack.golden", packReportOf(t, someReport, aPackPage()).String())
	golden(t, "report-fleet.golden", fleetReportOf(t, letter, aFleetPage(12)).String())
}

// allOnPage checks that all of a page is on it, and that no text lies on another.
func allOnPage(t *testing.T, name string, d *drawing) {
	t.Helper()
	for i, p := range d.pages {
		type span struct{ x1, y1, x2, y2 float64 }
		var taken []span
		var words []string
		for _, it := range p.items {
			it, ok := it.(text)
			if !ok {
				continue
			}
			h := it.sizePT * mmPerPT
			s := span{it.x, it.y - h*0.6, it.x + it.w, it.y + h*0.05}
			if s.x1 < 4 || s.x2 > p.w-4 || s.y1 < 4 || s.y2 > p.h-4 {
				t.Errorf("%s, page %d: %s is off the page", name, i+1, it)
			}
			for k, o := range taken {
				if s.x1 < o.x2-0.1 && o.x1 < s.x2-0.1 && s.y1 < o.y2 && o.y1 < s.y2 {
					t.Errorf("%s, page %d: %q lies on %q", name, i+1, it.s, words[k])
				}
			}
			taken, words = append(taken, s), append(words, it.s)
		}
	}
}

func TestReportsFit(t *testing.T) {
	long := strings.Repeat("very long words of a person who writes all that came to mind ", 12)
	for _, paper := range []string{"A4", "Letter"} {
		o := someReport
		o.Paper = paper
		full := aPackPage()
		full.Reason, full.Trend, full.Next = long, long, []string{long, long}
		full.Details = append(full.Details, long)
		full.Pack.Name = strings.Repeat("Ω", 60)
		for range 5 {
			full.Findings = append(full.Findings, ReportFinding{Title: "It loses its charge in store (possible)", Evidence: []string{long}, Action: long})
			full.Plot.Marks = append(full.Plot.Marks, PlotMark{AtMS: full.Plot.Points[3].AtMS, Words: long})
		}
		full.Working = append(full.Working, full.Working...)
		full.Working[0].Numbers, full.Working[1].Result = long, long
		full.Tests[0] = ReportTest{long, long, long, long, long}
		empty := PackPage{Pack: Pack{Code: "ABCDEF"}, Decision: "not tested"}
		one := aPackPage()
		one.Plot.Points, one.Plot.Band, one.Plot.LimitOhm = one.Plot.Points[:1], nil, 0
		same := aPackPage()
		for i := range same.Plot.Points {
			same.Plot.Points[i].AtMS = same.Plot.Points[0].AtMS
		}
		d := packReportOf(t, o, aPackPage(), full, empty, one, same)
		if len(d.pages) != 5 {
			t.Errorf("%d pages for 5 packs", len(d.pages))
		}
		allOnPage(t, "packs on "+paper, d)
		for _, n := range []int{1, 12, MostFleetRows, MostFleetRows + 1, 100} {
			page := aFleetPage(n)
			d := fleetReportOf(t, o, page)
			if len(d.pages) != 1 {
				t.Errorf("%d packs: %d pages", n, len(d.pages))
			}
			allOnPage(t, strconv.Itoa(n)+" packs on "+paper, d)
			if more := strings.Contains(d.String(), "Not in the table, "); more != (n > MostFleetRows) {
				t.Errorf("%d packs: says that some are missing: %t", n, more)
			}
		}
		page := aFleetPage(MostFleetRows)
		for i := range page.Answers {
			page.Answers[i] = FleetAnswer{long, long, long}
		}
		page.Worked = append(page.Worked, long, long)
		d = fleetReportOf(t, o, page)
		allOnPage(t, "long words on "+paper, d)
		if len(d.notes) == 0 {
			t.Error("nothing says that the explanation was cut")
		}
	}
}

// What a page has no room for ends after a word, and what is to be done stands
// before what shows it.
func TestReportsCutAfterWords(t *testing.T) {
	action := "Crimp the connector of Übungspack Größe Süd anew, note the repair, and test it again before the next event."
	for _, packs := range []int{12, MostFleetRows} {
		page := aFleetPage(packs)
		names, evidence := "", 3
		if packs == MostFleetRows {
			evidence = 30
		}
		for _, r := range page.Rows[:packs/3] {
			names += r.Pack.Name + ", "
		}
		for range mostAnswers - len(page.Answers) {
			page.Answers = append(page.Answers, FleetAnswer{Question: "Which packs to test next?"})
		}
		for i := range page.Answers {
			page.Answers[i].Answer, page.Answers[i].More = names, action+strings.Repeat(" The resistance jumped by 0.028 Ω and stayed.", evidence)
		}
		for i := range page.Rows {
			page.Rows[i].LookAt = "Cells are ageing; It holds less than it should; It loses its charge in store"
		}
		d := fleetReportOf(t, someReport, page)
		allOnPage(t, "a full page", d)
		lines := cutAfterWords(t, d)
		if n := strings.Count(lines, action); n != mostAnswers {
			t.Errorf("%d packs: what to do is whole in %d of %d boxes", packs, n, mostAnswers)
		}
		if n := strings.Count(lines, page.Rows[0].LookAt); packs == 12 && n != packs {
			t.Errorf("what was found is whole for %d of %d packs", n, packs)
		}
	}
	full := aPackPage()
	note := "it was not ready: it had rested 10 min of the 60 min it takes; it shows 0.67 V more than it usually does, fresh off the charger"
	full.Tests[3].Note = note
	full.Next = []string{strings.TrimSpace(strings.Repeat("charge it once more, attended, and let it rest; ", 5)) + " then read the voltage"}
	full.Findings[1].Evidence = []string{strings.Repeat("It rose steadily and its sisters did not. ", 12) + "That is all."}
	full.Plot.Marks[0].Words = strings.Repeat("cut back and crimped both contacts anew; ", 3) + "pull test passed"
	full.Working[3].Numbers = "√((0.0006762 Ω)² + (0.002249 Ω)² + (0.002315 Ω)² + (0.0006762 Ω)²) last"
	lines := cutAfterWords(t, packReportOf(t, someReport, full))
	for _, words := range []string{note, full.Next[0], "That is all.", full.Plot.Marks[0].Words, full.Working[3].Numbers} {
		if !strings.Contains(lines, words) {
			t.Errorf("not whole: %s", words)
		}
	}
}

// cutAfterWords gives the texts of a drawing one after the other, and complains of
// words that are cut.
func cutAfterWords(t *testing.T, d *drawing) string {
	t.Helper()
	var all []string
	for _, p := range d.pages {
		for _, it := range p.items {
			if it, ok := it.(text); ok {
				if strings.HasSuffix(it.s, ellipsis) && !strings.HasSuffix(it.s, " "+ellipsis) {
					t.Errorf("a word is cut: %s", it.s)
				}
				all = append(all, it.s)
			}
		}
	}
	return strings.Join(all, " ")
}

func TestReportRefuses(t *testing.T) {
	bad := func(change func(*PackPage)) error {
		page := aPackPage()
		change(&page)
		return PackReport(&bytes.Buffer{}, []PackPage{page}, someReport)
	}
	wantProblem(t, bad(func(p *PackPage) { p.Plot.Points[0].Ohm = math.NaN() }), "points")
	wantProblem(t, bad(func(p *PackPage) { p.Plot.Points[0].PlusOhm = math.Inf(1) }), "points")
	wantProblem(t, bad(func(p *PackPage) { p.Plot.Points[0].AtMS = -1 }), "points")
	wantProblem(t, bad(func(p *PackPage) { p.Plot.LimitOhm = -1 }), "limit_ohm")
	wantProblem(t, bad(func(p *PackPage) { p.Pack.Code = "x" }), "pack")
	wantProblem(t, bad(func(p *PackPage) { p.Reason = "日本" }), "")
	wantProblem(t, PackReport(&bytes.Buffer{}, nil, someReport), "")
	wantProblem(t, FleetReport(&bytes.Buffer{}, FleetPage{}, someReport), "")
	wantProblem(t, PackReport(&bytes.Buffer{}, []PackPage{aPackPage()}, ReportOptions{Paper: "A5"}), "paper")
}

// The plot puts what was measured where its axes say it is.
func TestPlotIsTrue(t *testing.T) {
	sheetOfPaper := new(page)
	page := aPackPage()
	ts, err := newTypesetter()
	if err != nil {
		t.Fatal(err)
	}
	g := &plotter{t: ts, p: sheetOfPaper, frame: box{20, 30, 150, 50}}
	g.scale(&page.Plot)
	if y := g.y(g.low); math.Abs(y-80) > 1e-9 {
		t.Errorf("the lower edge is at %g", y)
	}
	if y := g.y(0.1) - g.y(0.1+g.step); math.Abs(y-50*g.step/(g.top-g.low)) > 1e-9 {
		t.Errorf("one step is %g mm", y)
	}
	for _, p := range page.Plot.Points {
		if x := g.x(p.AtMS); x < g.frame.x || x > g.frame.right() || p.Ohm < g.low || p.Ohm > g.top {
			t.Errorf("%+v is outside", p)
		}
	}
	// Of five tests at 0.1 Ω, one of 5 Ω must not flatten the others.
	wild := Plot{LimitOhm: 0.1}
	for i := range 5 {
		wild.Points = append(wild.Points, PlotPoint{AtMS: int64(i) * aDayMS, Ohm: 0.09 + 0.01*float64(i), PlusOhm: 0.01})
	}
	wild.Points = append(wild.Points, PlotPoint{AtMS: 9 * aDayMS, Ohm: 5})
	g.scale(&wild)
	if g.top > 0.35 {
		t.Errorf("the frame reaches to %g Ω", g.top)
	}
}

// TestReportReadsBack reads both reports with pdftotext, and makes each twice.
func TestReportReadsBack(t *testing.T) {
	pdftotext := tool(t, "pdftotext")
	twice := func(make func(*bytes.Buffer) error) string {
		var a, b bytes.Buffer
		if err := make(&a); err != nil {
			t.Fatal(err)
		}
		if err := make(&b); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("the second PDF differs: %v", err)
		}
		return run(t, pdftotext, "-raw", savePDF(t, make), "-")
	}
	golden(t, "report-pack.txt", twice(func(b *bytes.Buffer) error { return PackReport(b, []PackPage{aPackPage()}, someReport) }))
	golden(t, "report-fleet.txt", twice(func(b *bytes.Buffer) error { return FleetReport(b, aFleetPage(12), someReport) }))
}

func BenchmarkFleetReport(b *testing.B) {
	page := aFleetPage(MostFleetRows)
	for b.Loop() {
		if err := FleetReport(&bytes.Buffer{}, page, ReportOptions{Warn: func(string) {}}); err != nil {
			b.Fatal(err)
		}
	}
}
