package labels

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// TestLabelsScan prints full sheets and rolls, rasterises them at 203 dpi, the
// resolution of common label printers, cuts the labels apart along their edges,
// and reads each with an independent reader (zbar). 150 dpi, where no module is a
// whole number of pixels, stands for a poor printer.
func TestLabelsScan(t *testing.T) {
	pdftoppm, zbarimg := tool(t, "pdftoppm"), tool(t, "zbarimg")
	for _, size := range Sizes() {
		for _, level := range []string{"Q", "H"} {
			longest := address(longestBase("7K00HX", level, size.content(size.label(0))))
			for name, base := range map[string]string{"typical": pit, "longest": longest} {
				t.Run(fmt.Sprintf("%s %s %s", size.Key, level, name), func(t *testing.T) {
					t.Parallel()
					packs := manyPacks(max(6, size.PerPage()))
					file := savePDF(t, func(w *bytes.Buffer) error {
						return Sheet(w, packs, SheetOptions{Size: size.Key, Level: level, BaseURL: base, CutMarks: !size.Roll})
					})
					for _, dpi := range []int{203, 150} {
						var want []string
						for _, p := range packs {
							want = append(want, strings.ToUpper(base)+"/P/"+p.Code)
						}
						pages := rasterise(t, pdftoppm, file, dpi)
						var labels []pgm
						for i := range packs {
							page := pages[i/size.PerPage()]
							labels = append(labels, page.crop(size.label(i%size.PerPage()), dpi))
						}
						for i, got := range scan(t, zbarimg, labels) {
							if got != want[i] {
								t.Errorf("label %d at %d dpi: read %q, want %q", i+1, dpi, got, want[i])
							}
						}
					}
				})
			}
		}
	}
}

// rasterise gives the pages of a PDF in grey.
func rasterise(t *testing.T, pdftoppm, file string, dpi int) []pgm {
	t.Helper()
	dir := t.TempDir()
	run(t, pdftoppm, "-r", fmt.Sprint(dpi), "-gray", file, filepath.Join(dir, "page"))
	files, err := filepath.Glob(filepath.Join(dir, "*.pgm"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no pages: %v", err)
	}
	var pages []pgm
	for _, f := range files {
		pages = append(pages, readPGM(t, f))
	}
	return pages
}

// scan gives the text of the one QR on each image; empty where none was read.
func scan(t *testing.T, zbarimg string, images []pgm) []string {
	t.Helper()
	dir := t.TempDir()
	args := []string{"--quiet", "--xml", "--nodbus", "-Sdisable", "-Sqrcode.enable"}
	index := map[string]int{}
	for i, img := range images {
		file := filepath.Join(dir, fmt.Sprintf("%04d.pgm", i))
		data := fmt.Appendf(nil, "P5\n%d %d\n255\n", img.w, img.h)
		if err := os.WriteFile(file, append(data, img.pix...), 0o600); err != nil {
			t.Fatal(err)
		}
		index[file] = i
		args = append(args, file)
	}
	// zbarimg fails where one image has no code: that is for the caller to judge.
	out, err := exec.Command(zbarimg, args...).Output()
	if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	var found struct {
		Sources []struct {
			File string   `xml:"href,attr"`
			Data []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal(out, &found); err != nil {
		t.Fatalf("zbarimg: %v\n%s", err, out)
	}
	texts := make([]string, len(images))
	for _, s := range found.Sources {
		texts[index[s.File]] = strings.Join(s.Data, " and ")
	}
	return texts
}

// TestPrintedText reads codes and names back with pdftotext.
func TestPrintedText(t *testing.T) {
	pdftotext := tool(t, "pdftotext")
	for _, size := range Sizes() {
		file := savePDF(t, func(w *bytes.Buffer) error {
			return Sheet(w, somePacks(), SheetOptions{Size: size.Key, BaseURL: pit, Ruler: true})
		})
		got := strings.Join(strings.Fields(run(t, pdftotext, "-raw", file, "-")), " ")
		for _, want := range []string{
			"7K3 QX9", "Blue 1", "3.0 Ah", "in service 2026-09-01", "00A B2C", "Übungspack Größe Süd", "2.85 Ah",
			"Zażółć gęślą jaźń", "Синий аккумулятор №3", "ABC DEF", "0.1 Ω spare", "measure: this line is",
		} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q is not in the printed text:\n%s", size.Key, want, got)
			}
		}
	}
}

// TestRuler measures the check page's rulers in a raster of 300 dpi: 100 mm are
// 1181.1 pixels.
func TestRuler(t *testing.T) {
	pdftoppm := tool(t, "pdftoppm")
	const dpi = 300
	for _, c := range []struct {
		size   string
		length float64
	}{{"a4-3x8", 100}, {"a4-3x7", 100}, {"letter-3x10", 100}, {"roll-62x29", 50}, {"roll-50x30", 40}} {
		o := SheetOptions{Size: c.size, BaseURL: pit, Ruler: true}
		d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks()[:1], o) })
		file := savePDF(t, func(w *bytes.Buffer) error { return Sheet(w, somePacks()[:1], o) })
		img := rasterise(t, pdftoppm, file, dpi)[0]
		px := func(mm float64) int { return int(math.Round(mm / mmPerInch * dpi)) }

		// The ruler's own line says where to look; the ends of its first and
		// last marks stand out of it by 5 mm, the others by 2 mm.
		rulers := 0
		for _, it := range d.pages[0].items {
			l, ok := it.(line)
			if !ok || math.Hypot(l.x2-l.x1, l.y2-l.y1) < c.length-0.01 {
				continue
			}
			rulers++
			var marks []int
			if l.y1 == l.y2 {
				marks = img.darkRuns(px(l.x1-2), px(l.y1-3.5), px(l.x2+2)-px(l.x1-2), 1, 0)
			} else {
				marks = img.darkRuns(px(l.x1+3.5), px(l.y1-2), px(l.y2+2)-px(l.y1-2), 0, 1)
			}
			if len(marks) != 2 {
				t.Fatalf("%s: %d long marks, want 2", c.size, len(marks))
			}
			want := c.length / mmPerInch * dpi
			if got := float64(marks[1] - marks[0]); math.Abs(got-want) > 1 {
				t.Errorf("%s: the line of %g mm is %g pixels long, want %.1f", c.size, c.length, got, want)
			}
		}
		wantRulers := 2
		if c.length < 100 {
			wantRulers = 1
		}
		if rulers != wantRulers {
			t.Errorf("%s: %d rulers, want %d", c.size, rulers, wantRulers)
		}
	}
}

// pgm is a grey raster.
type pgm struct {
	w, h int
	pix  []byte
}

func readPGM(t *testing.T, file string) pgm {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var p pgm
	var depth int
	if _, err := fmt.Sscanf(string(data[:min(len(data), 40)]), "P5\n%d %d\n%d\n", &p.w, &p.h, &depth); err != nil || depth != 255 {
		t.Fatalf("%s is no grey raster: %v", file, err)
	}
	p.pix = data[len(data)-p.w*p.h:]
	return p
}

// crop cuts a box, in millimetres, out of a raster.
func (p pgm) crop(b box, dpi int) pgm {
	px := func(mm float64) int { return int(math.Round(mm / mmPerInch * float64(dpi))) }
	x0, x1 := max(0, px(b.x)), min(p.w, px(b.right()))
	y0, y1 := max(0, px(b.y)), min(p.h, px(b.bottom()))
	out := pgm{w: x1 - x0, h: y1 - y0}
	for y := y0; y < y1; y++ {
		out.pix = append(out.pix, p.pix[y*p.w+x0:y*p.w+x1]...)
	}
	return out
}

// darkRuns walks n pixels from (x, y) and gives where dark runs begin.
func (p pgm) darkRuns(x, y, n, dx, dy int) []int {
	var starts []int
	dark := false
	for i := range n {
		now := p.pix[(y+i*dy)*p.w+x+i*dx] < 128
		if now && !dark {
			starts = append(starts, i)
		}
		dark = now
	}
	return starts
}

// TestSameBytes makes each document again and again, also at the same time. The
// name has letters that share a glyph in the fonts.
func TestSameBytes(t *testing.T) {
	var before [][]byte
	for _, f := range faces() {
		before = append(before, bytes.Clone(f.ttf))
	}
	packs := append(somePacks(), Pack{Code: "SAMEX0", Name: "µμ Δ∆ Ω -‐ ЁË Àà"})
	warn := func(string) {}
	for name, make := range map[string]func(*bytes.Buffer) error{
		"sheet": func(w *bytes.Buffer) error {
			return Sheet(w, packs, SheetOptions{BaseURL: pit, Ruler: true, CutMarks: true, Copies: 3, Warn: warn})
		},
		"checklist": func(w *bytes.Buffer) error {
			return Checklist(w, ChecklistOptions{Packs: packs, MatchCount: 8, Warn: warn})
		},
		"test sheet": func(w *bytes.Buffer) error {
			return TestSheet(w, TestSheetOptions{Pack: &somePacks()[0], BaseURL: pit, LoadOhm: 10})
		},
	} {
		docs := [16]bytes.Buffer{}
		var wg sync.WaitGroup
		for i := range docs {
			again := func() {
				if err := make(&docs[i]); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
			if i%2 == 0 {
				again()
			} else {
				wg.Go(again)
			}
		}
		wg.Wait()
		for i := range docs {
			if !bytes.Equal(docs[i].Bytes(), docs[0].Bytes()) {
				t.Errorf("%s: document %d of %d differs from the first", name, i+1, len(docs))
			}
		}
	}
	for i, f := range faces() {
		if !bytes.Equal(f.ttf, before[i]) {
			t.Errorf("the font %s was written into", f.name)
		}
	}
}
