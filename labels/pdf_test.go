package labels

import (
	"bytes"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestNoScaling follows the file's own trail, as a viewer does: the last
// startxref leads to a table, the table to the catalog, and that asks for no
// scaling (ISO 32000-1, 7.5 and 12.2).
func TestNoScaling(t *testing.T) {
	var buf bytes.Buffer
	if err := Sheet(&buf, somePacks(), SheetOptions{BaseURL: pit}); err != nil {
		t.Fatal(err)
	}
	pdf := buf.String()
	number := func(pattern, in string) int {
		t.Helper()
		m := regexp.MustCompile(pattern).FindStringSubmatch(in)
		if m == nil {
			t.Fatalf("%q is not in %q", pattern, in)
		}
		n, err := strconv.Atoi(m[1])
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	table := pdf[number(`startxref\n(\d+)\n%%EOF\n$`, pdf):]
	root := number(`/Root (\d+) 0 R`, table)
	if got := number(`^xref\n(\d+) 1\n`, table); got != root {
		t.Errorf("the table is about object %d, the catalog is %d", got, root)
	}
	catalog := pdf[number(`^xref\n\d+ 1\n(\d{10}) 00000 n \n`, table):]
	if !strings.HasPrefix(catalog, strconv.Itoa(root)+" 0 obj\n") {
		t.Errorf("no object %d where the table says: %.20q", root, catalog)
	}
	if !strings.Contains(catalog[:strings.Index(catalog, "endobj")], "/ViewerPreferences << /PrintScaling /None >>") {
		t.Error("the catalog does not ask for printing without scaling")
	}
	if previous := number(`/Prev (\d+)\n`, table); !strings.HasPrefix(pdf[previous:], "xref\n0 ") {
		t.Errorf("no table at %d", previous)
	}
}

// TestPDFInfo reads the file with poppler: title, pages, paper.
func TestPDFInfo(t *testing.T) {
	pdfinfo := tool(t, "pdfinfo")
	for name, c := range map[string]struct {
		make func(*bytes.Buffer) error
		want []string
	}{
		"sheet": {func(w *bytes.Buffer) error {
			return Sheet(w, somePacks(), SheetOptions{Size: "roll-62x29", BaseURL: pit, Copies: 2})
		}, []string{"Pack labels (12)", "Pages: 12", "175.75 x 82.2"}}, // points: 62 and 29 mm × 72 / 25.4
		"checklist": {func(w *bytes.Buffer) error {
			return Checklist(w, ChecklistOptions{Title: "Übungstag", Packs: somePacks(), MatchCount: 8})
		}, []string{"Title: Übungstag", "Pages: 3", "841.89 x 595.28"}},
		"test sheet": {func(w *bytes.Buffer) error { return TestSheet(w, TestSheetOptions{Paper: "Letter"}) },
			[]string{"Load test by hand", "Pages: 1", "612 x 792 pts (letter)"}},
	} {
		file := savePDF(t, c.make)
		got := strings.Join(strings.Fields(run(t, pdfinfo, file)), " ")
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: no %q in %s", name, want, got)
			}
		}
		if data, err := os.ReadFile(file); err != nil || bytes.Contains(data, []byte("/Subtype /Image")) {
			t.Errorf("%s: has an image, or cannot be read: %v", name, err)
		}
	}
}

// FuzzName: whatever a team types, a label and a test sheet come out, nothing
// panics, and what is drawn has a glyph for every character.
func FuzzName(f *testing.F) {
	for _, s := range []string{"Blue 1", "", "\x00\xff", "🔋", "\u202eabc", "Ω ⚡", "ａ\u0301", strings.Repeat("W", 300), "a\u0000\u0301"} {
		f.Add(s, 3.0)
	}
	f.Fuzz(func(t *testing.T, name string, capacityAh float64) {
		pack := Pack{Code: "7K3QX9", Name: name, CapacityAh: capacityAh, InService: name}
		warn := func(string) {}
		var buf bytes.Buffer
		if err := Sheet(&buf, []Pack{pack}, SheetOptions{Size: "roll-50x30", BaseURL: pit, Warn: warn}); err != nil {
			wantProblem(t, err, "capacity_ah")
			return
		}
		if err := TestSheet(&buf, TestSheetOptions{Pack: &pack, Warn: warn}); err != nil {
			t.Fatal(err)
		}
		ts, err := newTypesetter()
		if err != nil {
			t.Fatal(err)
		}
		d, err := layoutSheet(ts, []Pack{pack}, SheetOptions{Size: "roll-50x30", BaseURL: pit})
		if err != nil {
			t.Fatal(err)
		}
		checkGlyphs(t, ts, d)
	})
}

// checkGlyphs checks that the fonts have every character that is drawn.
func checkGlyphs(t *testing.T, ts *typesetter, d *drawing) {
	t.Helper()
	for _, p := range d.pages {
		for _, it := range p.items {
			if it, ok := it.(text); ok {
				for _, r := range it.s {
					if !ts.has(r) {
						t.Errorf("%q has U+%04X, which the fonts lack", it.s, r)
					}
				}
			}
		}
	}
}
