package labels

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"packwright/internal/problem"
)

func checklistOf(t *testing.T, o ChecklistOptions) *drawing {
	t.Helper()
	return layOut(t, func(ts *typesetter) (*drawing, error) {
		d, err := layoutChecklist(ts, o)
		if err == nil {
			checkGlyphs(t, ts, d)
		}
		return d, err
	})
}

func TestChecklistGolden(t *testing.T) {
	d := checklistOf(t, ChecklistOptions{Title: "Autumn meeting", Date: "2026-11-28", Packs: somePacks()[:2],
		Matches: []string{"1", "final, 15:40"}, Chargers: 2})
	golden(t, "checklist.golden", d.String())
	golden(t, "checklist-empty.golden", checklistOf(t, ChecklistOptions{Paper: "Letter"}).String())
}

// TestChecklistComplete: every pack meets every match once, with its three
// boxes of 5 mm or more and its three fields of 12 × 6 mm or more, on pages that
// all repeat title, packs and matches.
func TestChecklistComplete(t *testing.T) {
	for _, c := range []struct {
		paper                        string
		packs, matches, pages, chars int
	}{
		{"A4", 12, 12, 2, 4}, {"Letter", 12, 12, 3, 4}, {"A4", 1, 1, 1, 1}, {"A4", 13, 7, 2, 9}, {"A4", 14, 7, 4, 4}, {"Letter", 20, 80, 32, 4}, {"A4", 200, 200, 16 * 34, 24},
	} {
		t.Run(fmt.Sprintf("%s %d packs %d matches", c.paper, c.packs, c.matches), func(t *testing.T) {
			d := checklistOf(t, ChecklistOptions{Title: "Day", Paper: c.paper, Packs: manyPacks(c.packs), MatchCount: c.matches, Chargers: c.chars})
			chargerPages := (c.chars + 3) / 4
			if got := len(d.pages) - chargerPages; got != c.pages {
				t.Errorf("%d pages of matches, want %d", got, c.pages)
			}
			cells := 0
			for i, p := range d.pages[:len(d.pages)-chargerPages] {
				cells += checkMatchPage(t, p)
				if !slices.ContainsFunc(p.items, func(it item) bool { x, ok := it.(text); return ok && x.s == "Day" }) {
					t.Errorf("page %d has no title", i+1)
				}
			}
			if cells != c.packs*c.matches {
				t.Errorf("%d cells, want %d × %d", cells, c.packs, c.matches)
			}
			for _, p := range d.pages {
				checkOnPaper(t, p)
			}
		})
	}
}

// checkMatchPage counts the cells of a page and checks their measures.
func checkMatchPage(t *testing.T, p *page) int {
	t.Helper()
	codes, matches := 0, 0
	count := map[string]int{}
	ticks := map[string]bool{}
	for _, it := range p.items {
		switch it := it.(type) {
		case text:
			count[it.s]++
			if it.face == mono {
				codes++
			}
			if it.s == "match " {
				matches++
			}
		case rect:
			if it.w < 10 {
				if it.w < 5 || it.h < 5 {
					t.Errorf("a box to tick of %g × %g mm", it.w, it.h)
				}
				ticks[fmt.Sprintf("%.2f %.2f", it.x, it.y)] = true
			}
		}
	}
	rows := count["charged"] / matches
	if spare := rows - codes; spare != 0 && spare != 2 && rows != 13 {
		t.Errorf("%d rows for %d packs", rows, codes)
	}
	for _, word := range []string{"charged", "rested", "fitted", "V before", "V after", "initials"} {
		if count[word] != rows*matches {
			t.Errorf("%q is there %d times in %d rows and %d matches", word, count[word], rows, matches)
		}
	}
	if len(ticks) != 3*rows*matches {
		t.Errorf("%d boxes to tick in %d rows and %d matches", len(ticks), rows, matches)
	}
	if columnW := (p.w - 2*listMarginMM - packColumnMM) / float64(matches); columnW/3 < 12 {
		t.Errorf("fields of %.1f mm", columnW/3)
	}
	return codes * matches
}

// checkOnPaper: nothing nearer than 8 mm to the edge, and no text on another.
func checkOnPaper(t *testing.T, p *page) {
	t.Helper()
	paper := box{8, 8, p.w - 16, p.h - 16}
	var texts []text
	for _, it := range p.items {
		b := box{}
		switch it := it.(type) {
		case text:
			b = it.inkBox()
			texts = append(texts, it)
		case rect:
			b = it.box
		case line:
			b = box{min(it.x1, it.x2), min(it.y1, it.y2), math.Abs(it.x2 - it.x1), math.Abs(it.y2 - it.y1)}
			if it.x1 > it.x2 || it.y1 > it.y2 {
				t.Errorf("%v runs backwards: no room for a field", it)
			}
		case symbol:
			b = box{it.x + 4*it.moduleMM, it.y + 4*it.moduleMM, it.w - 8*it.moduleMM, it.h - 8*it.moduleMM}
		}
		if !inside(b, paper) {
			t.Errorf("%v is nearer than 8 mm to the edge", it)
		}
	}
	slices.SortFunc(texts, func(a, b text) int { return int(math.Copysign(1, a.y-b.y)) })
	for i, a := range texts {
		for _, b := range texts[i+1:] {
			if b.y-a.y > 10 {
				break
			}
			if overlap(a.inkBox(), b.inkBox()) {
				t.Errorf("%v lies on %v", a, b)
			}
		}
	}
}

// TestChecklistAside: a pack that must not be charged has no row; beneath the rows
// of every page stands why.
func TestChecklistAside(t *testing.T) {
	const said = "Do not charge: Rook (swollen, melted connector)."
	packs := manyPacks(3)
	o := ChecklistOptions{Packs: packs, MatchCount: 12, Aside: []string{said}}
	d := checklistOf(t, o)
	for _, p := range d.pages[:2] {
		checkOnPaper(t, p)
	}
	long := ChecklistOptions{Packs: manyPacks(20), MatchCount: 1, Aside: []string{said, "Do not charge: Teal (" + strings.Repeat("a danger in many words ", 80) + ")."}}
	for _, p := range checklistOf(t, long).pages {
		checkOnPaper(t, p)
	}

	pdftotext := tool(t, "pdftotext")
	file := savePDF(t, func(w *bytes.Buffer) error { return Checklist(w, o) })
	pages := strings.Split(run(t, pdftotext, "-layout", file, "-"), "\f")
	for i, text := range pages[:len(d.pages)-1] { // the last one logs the chargers
		if got := strings.Count(text, said); got != 1 {
			t.Errorf("page %d says it %d times:\n%s", i+1, got, text)
		}
	}
}

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		n, perPage int
		want       string
	}{{12, 6, "[{0 6} {6 12}]"}, {13, 6, "[{0 4} {4 8} {8 13}]"}, {1, 6, "[{0 1}]"}, {6, 6, "[{0 6}]"}, {7, 6, "[{0 3} {3 7}]"}} {
		if got := fmt.Sprint(split(c.n, c.perPage)); got != c.want {
			t.Errorf("split(%d, %d) = %s, want %s", c.n, c.perPage, got, c.want)
		}
	}
}

func TestChecklistRefuses(t *testing.T) {
	for field, o := range map[string]ChecklistOptions{
		"paper":    {Paper: "A5"},
		"matches":  {MatchCount: 201},
		"chargers": {Chargers: 25},
		"pack":     {Packs: []Pack{{Code: "?"}}},
		"":         {Title: "day ⚡"},
	} {
		wantProblem(t, Checklist(io.Discard, o), field)
	}
	wantProblem(t, Checklist(io.Discard, ChecklistOptions{MatchCount: -1}), "matches")
	if p, ok := problem.As(Checklist(io.Discard, ChecklistOptions{Packs: manyPacks(201)})); !ok || p.Kind != problem.TooLarge {
		t.Errorf("201 packs: got %v", p)
	}
}

func TestTestSheetGolden(t *testing.T) {
	for name, o := range map[string]TestSheetOptions{
		"test-sheet-pack.golden":  {Pack: &somePacks()[0], BaseURL: pit, ReadAfterS: 5, LoadOhm: 10, LimitOhm: 0.1},
		"test-sheet-empty.golden": {Paper: "Letter"},
	} {
		d := layOut(t, func(ts *typesetter) (*drawing, error) {
			d, err := layoutTestSheet(ts, o)
			if err == nil {
				checkGlyphs(t, ts, d)
			}
			return d, err
		})
		if len(d.pages) != 1 {
			t.Fatalf("%s has %d pages", name, len(d.pages))
		}
		checkOnPaper(t, d.pages[0])
		golden(t, name, d.String())
	}
}

// TestTestSheetLongest fills in the longest of everything.
func TestTestSheetLongest(t *testing.T) {
	for _, paper := range []string{"A4", "Letter"} {
		o := TestSheetOptions{Paper: paper, Pack: &Pack{Code: "WMWMWM", Name: strings.Repeat("Wide name ", 20)},
			BaseURL: "https://packs.our-school.example:8443", ReadAfterS: 12.5, LoadOhm: 2.475, LimitOhm: 0.105}
		checkOnPaper(t, layOut(t, func(ts *typesetter) (*drawing, error) { return layoutTestSheet(ts, o) }).pages[0])
	}
}

// TestTestSheetExample works the printed example by Ohm's law: the sag over the
// current through the load.
func TestTestSheetExample(t *testing.T) {
	pdftotext := tool(t, "pdftotext")
	file := savePDF(t, func(w *bytes.Buffer) error { return TestSheet(w, TestSheetOptions{}) })
	got := strings.Join(strings.Fields(run(t, pdftotext, "-raw", file, "-")), " ")
	currentA := 12.71 / 10
	ohm := (12.84 - 12.71) / currentA
	for _, want := range []string{
		"R = (R_L + r_w) × (V0 / V1 − 1)",
		fmt.Sprintf("(10 + 0) Ω × (12.84 / 12.71 − 1) = %.3f Ω", ohm),
		fmt.Sprintf("moves R by %.0f %%", 100*0.01/(12.84-12.71)),
		"hot enough to burn", "Touch neither the load nor bare leads", "insulated clip, handle or connector", "until it has cooled", "eye protection", "Never short", "an adult present", "come first", "Under 11 V",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not printed:\n%s", want, got)
		}
	}
}

// TestPaperScans reads the QR of a test sheet.
func TestPaperScans(t *testing.T) {
	pdftoppm, zbarimg := tool(t, "pdftoppm"), tool(t, "zbarimg")
	for _, base := range []string{pit, "https://packs.our-school.example:8443"} {
		file := savePDF(t, func(w *bytes.Buffer) error {
			return TestSheet(w, TestSheetOptions{Pack: &somePacks()[0], BaseURL: base})
		})
		want := strings.ToUpper(base) + "/P/7K3QX9"
		if got := scan(t, zbarimg, rasterise(t, pdftoppm, file, 203)); got[0] != want {
			t.Errorf("read %q, want %q", got[0], want)
		}
	}
}

func TestTestSheetRefuses(t *testing.T) {
	for field, o := range map[string]TestSheetOptions{
		"paper":        {Paper: "A5"},
		"load_ohm":     {LoadOhm: -1},
		"limit_ohm":    {LimitOhm: math.NaN()},
		"read_after_s": {ReadAfterS: math.Inf(1)},
		"pack":         {Pack: &Pack{Code: "short"}},
		"base_url":     {Pack: &somePacks()[0], BaseURL: "pit.local"},
	} {
		wantProblem(t, TestSheet(io.Discard, o), field)
	}
}
