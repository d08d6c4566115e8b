package labels

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/problem"
)

const pit = "https://pit.local"

func TestSheetGolden(t *testing.T) {
	for _, size := range Sizes() {
		t.Run(size.Key, func(t *testing.T) {
			o := SheetOptions{Size: size.Key, BaseURL: pit, Ruler: true, Copies: 1}
			d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks(), o) })
			golden(t, "sheet-"+size.Key+".golden", d.String())
		})
	}
	o := SheetOptions{Size: "a4-3x7", Start: 20, Copies: 2, CutMarks: true, Level: "H", BaseURL: "https://packs.example:8443", OffsetXMM: 0.5, OffsetYMM: -1}
	d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks()[:2], o) })
	golden(t, "sheet-options.golden", d.String())
}

// TestSheetMargins checks the table of sizes against the page: what is left
// over is shared by both sides.
func TestSheetMargins(t *testing.T) {
	for _, s := range Sizes() {
		last := s.label(s.PerPage() - 1)
		if right := s.PageWMM - last.right(); math.Abs(right-s.LeftMM) > 0.011 {
			t.Errorf("%s: %.3f mm left, %.3f mm right", s.Key, s.LeftMM, right)
		}
		if below := s.PageHMM - last.bottom(); math.Abs(below-s.TopMM) > 0.011 {
			t.Errorf("%s: %.3f mm above, %.3f mm below", s.Key, s.TopMM, below)
		}
	}
}

func TestSheetPositions(t *testing.T) {
	// Two copies from label 20 of 21: 20 and 21, then 1 and 2 of the next sheet.
	o := SheetOptions{Size: "a4-3x7", Start: 20, Copies: 2, BaseURL: pit}
	d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks()[:2], o) })
	size, err := sizeOf("a4-3x7")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for n, p := range d.pages {
		for _, it := range p.items {
			s, ok := it.(symbol)
			if !ok {
				continue
			}
			for i := range size.PerPage() {
				if inside(s.box, size.label(i)) {
					got = append(got, fmt.Sprintf("page %d label %d %s", n+1, i+1, s.qr.payload))
				}
			}
		}
	}
	want := []string{
		"page 1 label 20 HTTPS://PIT.LOCAL/P/7K3QX9",
		"page 1 label 21 HTTPS://PIT.LOCAL/P/7K3QX9",
		"page 2 label 1 HTTPS://PIT.LOCAL/P/00AB2C",
		"page 2 label 2 HTTPS://PIT.LOCAL/P/00AB2C",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// A full sheet does not open an empty one.
	o = SheetOptions{Size: "a4-3x7", BaseURL: pit}
	d = layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, manyPacks(21), o) })
	if len(d.pages) != 1 {
		t.Errorf("21 labels take %d sheets of 21", len(d.pages))
	}
}

// TestLabelKeepsInside tries any name: everything stays in the part of the
// label that is printed on, and nothing lies on anything else.
func TestLabelKeepsInside(t *testing.T) {
	ts, err := newTypesetter()
	if err != nil {
		t.Fatal(err)
	}
	word := rapid.StringMatching(`[A-Za-zÀ-žА-я0-9ΩWW]{1,30}`)
	rapid.Check(t, func(r *rapid.T) {
		size := rapid.SampledFrom(Sizes()).Draw(r, "size")
		pack := Pack{
			Code:       "WMWMWM",
			Name:       strings.Join(rapid.SliceOfN(word, 0, 9).Draw(r, "name"), " "),
			CapacityAh: rapid.SampledFrom([]float64{0, 3, 2.85, 999.9999}).Draw(r, "capacity"),
			InService:  rapid.SampledFrom([]string{"", "2026-09-01", "some day in September, I think"}).Draw(r, "date"),
		}
		o := SheetOptions{Size: size.Key, BaseURL: rapid.SampledFrom([]string{pit, "https://packs.our-school.example:8443"}).Draw(r, "base"),
			Level: rapid.SampledFrom([]string{"Q", "H"}).Draw(r, "level"), Start: size.PerPage()}
		d, err := layoutSheet(ts, []Pack{pack}, o)
		if err != nil {
			r.Fatal(err)
		}
		content := size.content(size.label(size.PerPage() - 1))
		checkApart(r, d.pages[0], content)
	})
}

// checkApart checks that all texts and symbols of a page lie in a box and that
// no two of them touch.
func checkApart(t rapid.TB, p *page, within box) {
	t.Helper()
	var boxes []box
	for _, it := range p.items {
		switch it := it.(type) {
		case text:
			boxes = append(boxes, it.inkBox())
		case symbol:
			boxes = append(boxes, it.box)
		}
	}
	for i, a := range boxes {
		if !inside(a, within) {
			t.Errorf("%v of %+v is outside %+v", p.items[i], a, within)
		}
		for j, b := range boxes[:i] {
			if overlap(a, b) {
				t.Errorf("%v lies on %v", p.items[i], p.items[j])
			}
		}
	}
}

// inkBox is where capitals and descenders are. Accents on capitals reach
// higher, into the white between the lines.
func (t text) inkBox() box {
	up, down := capHeight*t.sizePT*mmPerPT, descent*t.sizePT*mmPerPT
	return box{t.x, t.y - up, t.w, up + down}
}

const hair = 0.005 // millimetres of rounding

func inside(a, b box) bool {
	return a.x >= b.x-hair && a.y >= b.y-hair && a.right() <= b.right()+hair && a.bottom() <= b.bottom()+hair
}

func overlap(a, b box) bool {
	return a.x < b.right()-hair && b.x < a.right()-hair && a.y < b.bottom()-hair && b.y < a.bottom()-hair
}

// TestSheetEdges: nothing but cut marks and outlines comes nearer than 5 mm to
// the edge of a sheet, or than 2 mm to the edge of a label.
func TestSheetEdges(t *testing.T) {
	for _, size := range Sizes() {
		d := layOut(t, func(ts *typesetter) (*drawing, error) {
			return layoutSheet(ts, manyPacks(size.PerPage()), SheetOptions{Size: size.Key, BaseURL: pit, CutMarks: true})
		})
		edge := 5.0
		if size.Roll {
			edge = 2
		}
		page := box{edge, edge, size.PageWMM - 2*edge, size.PageHMM - 2*edge}
		for _, it := range d.pages[0].items {
			b := box{}
			switch it := it.(type) {
			case text:
				b = it.inkBox()
			case symbol:
				b = it.box
			case line:
				b = box{min(it.x1, it.x2), min(it.y1, it.y2), math.Abs(it.x2 - it.x1), math.Abs(it.y2 - it.y1)}
			}
			if !inside(b, page) {
				t.Errorf("%s: %v is nearer than %g mm to the edge", size.Key, it, edge)
			}
		}
	}
}

// TestRollDots: on a roll all modules begin on a dot of a 203 dpi printer, with
// any offset, measured from the corner of the label.
func TestRollDots(t *testing.T) {
	for _, size := range Sizes() {
		if !size.Roll {
			continue
		}
		for _, level := range []string{"Q", "H"} {
			o := SheetOptions{Size: size.Key, BaseURL: pit, Level: level, OffsetXMM: 0.3, OffsetYMM: -0.7}
			d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks()[:1], o) })
			for _, it := range d.pages[0].items {
				if s, ok := it.(symbol); ok {
					for _, v := range []float64{s.x, s.y, s.moduleMM} {
						if dots := v / dotMM; math.Abs(dots-math.Round(dots)) > 1e-6 {
							t.Errorf("%s level %s: %g mm is %g dots", size.Key, level, v, dots)
						}
					}
				}
			}
		}
	}
}

func TestSheetRefuses(t *testing.T) {
	ok := SheetOptions{BaseURL: pit}
	for _, c := range []struct {
		name, field string
		packs       []Pack
		change      func(*SheetOptions)
	}{
		{"no packs", "packs", nil, func(*SheetOptions) {}},
		{"size", "size", somePacks(), func(o *SheetOptions) { o.Size = "a5" }},
		{"start below", "start", somePacks(), func(o *SheetOptions) { o.Start = -1 }},
		{"start beyond", "start", somePacks(), func(o *SheetOptions) { o.Start = 25 }},
		{"start on a roll", "start", somePacks(), func(o *SheetOptions) { o.Size, o.Start = "roll-62x29", 2 }},
		{"copies", "copies", somePacks(), func(o *SheetOptions) { o.Copies = 101 }},
		{"copies below", "copies", somePacks(), func(o *SheetOptions) { o.Copies = -1 }},
		{"level", "level", somePacks(), func(o *SheetOptions) { o.Level = "M" }},
		{"offset", "offset", somePacks(), func(o *SheetOptions) { o.OffsetXMM = math.Nextafter(5, 6) }},
		{"offset that is no number", "offset", somePacks(), func(o *SheetOptions) { o.OffsetYMM = math.NaN() }},
		{"offset on a roll", "offset", somePacks(), func(o *SheetOptions) { o.Size, o.OffsetYMM = "roll-50x30", 2.2 }},
		{"code", "pack", []Pack{{Code: "7K3QXO"}}, func(*SheetOptions) {}},
		{"short code", "pack", []Pack{{Code: "7K3QX"}}, func(*SheetOptions) {}},
		{"lower case code", "pack", []Pack{{Code: "7k3qx9"}}, func(*SheetOptions) {}},
		{"capacity", "capacity_ah", []Pack{{Code: "7K3QX9", CapacityAh: -1}}, func(*SheetOptions) {}},
		{"capacity that is no number", "capacity_ah", []Pack{{Code: "7K3QX9", CapacityAh: math.NaN()}}, func(*SheetOptions) {}},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := ok
			c.change(&o)
			var buf bytes.Buffer
			wantProblem(t, Sheet(&buf, c.packs, o), c.field)
			if buf.Len() > 0 {
				t.Errorf("%d bytes were written all the same", buf.Len())
			}
		})
	}
	err := Sheet(io.Discard, manyPacks(31), SheetOptions{BaseURL: pit, Copies: 100})
	if p, isProblem := problem.As(err); !isProblem || p.Kind != problem.TooLarge {
		t.Errorf("3100 labels: got %v", err)
	}
	for _, o := range []SheetOptions{{BaseURL: pit, OffsetXMM: 5}, {BaseURL: pit, Start: 24}, {Size: "roll-50x30", BaseURL: pit, OffsetYMM: -2}} {
		if err := Sheet(io.Discard, somePacks(), o); err != nil {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

func TestSheetWarns(t *testing.T) {
	packs := []Pack{{Code: "7K3QX9", Name: "storm ⚡"}}
	p := wantProblem(t, Sheet(io.Discard, packs, SheetOptions{BaseURL: pit}), "")
	if !strings.Contains(p.Text, "U+26A1") || !strings.Contains(p.Text, "7K3QX9") {
		t.Errorf("the problem %q names neither character nor pack", p.Text)
	}
	var got []string
	o := SheetOptions{Size: "roll-62x29", BaseURL: "http://192.168.4.1:8080", CutMarks: true, Warn: func(s string) { got = append(got, s) }}
	if err := Sheet(io.Discard, packs, o); err != nil {
		t.Fatal(err)
	}
	for i, part := range []string{"□ is printed", "a name lasts longer", "cut marks are left out"} {
		if i >= len(got) || !strings.Contains(got[i], part) {
			t.Fatalf("warnings %q, want one with %q", got, part)
		}
	}
}

func BenchmarkSheet240(b *testing.B) {
	packs := manyPacks(240)
	b.ReportAllocs()
	for b.Loop() {
		var buf bytes.Buffer
		if err := Sheet(&buf, packs, SheetOptions{BaseURL: pit}); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(buf.Len()), "bytes")
	}
}
