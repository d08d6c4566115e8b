package labels

import (
	"math"
	"strings"
	"testing"

	"github.com/jung-kurt/gofpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

func newTestTypesetter(t testing.TB) *typesetter {
	t.Helper()
	ts, err := newTypesetter()
	if err != nil {
		t.Fatal(err)
	}
	return ts
}

// TestFontCoverage checks the alphabets of teams that are likely to print.
func TestFontCoverage(t *testing.T) {
	ts := newTestTypesetter(t)
	for what, letters := range map[string]string{
		"codes":        "0123456789ABCDEFGHJKMNPQRSTVWXYZ",
		"signs":        "Ωµ°±Δ−–—…×²№€“”’□/()%+&#'\"!?,;:",
		"Polish":       "ĄĆĘŁŃÓŚŹŻąćęłńóśźż",
		"German":       "ÄÖÜäöüß",
		"French":       "ÀÂÇÉÈÊËÎÏÔŒÙÛŸàâçéèêëîïôœùûÿ",
		"Spanish":      "ÁÉÍÑÓÚÜáéíñóúü¿¡",
		"Turkish":      "ÇĞİÖŞÜçğıöşü",
		"Czech":        "ČĎĚŇŘŠŤŮŽčďěňřšťůž",
		"Nordic":       "ÅÆØÐÞåæøðþ",
		"Russian":      "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдеёжзийклмнопрстуфхцчшщъыьэюя",
		"Ukrainian":    "ҐЄІЇґєії",
		"modern Greek": "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩάέήίόύώαβγδεζηθικλμνξοπρστυφχψως",
	} {
		for _, r := range letters {
			if !ts.has(r) {
				t.Errorf("%s: the fonts lack %q (U+%04X)", what, r, r)
			}
		}
	}
}

func TestPrintable(t *testing.T) {
	for _, c := range []struct{ typed, want, lacks string }{
		{"Blue 1", "Blue 1", ""},
		{"  two \t lines\r\nof\u00a0name ", "two lines of name", ""},
		{"u\u0308ben", "üben", ""},             // decomposed, as some phones type it
		{"a\u200b\u200db\ufeff", "ab", ""},     // no ink
		{"storm ⚡\ufe0f", "storm □", "U+26A1"}, // with its variation selector
		{"🔋 7", "□ 7", "U+1F50B"},              // beyond 16 bits
		{"e\u0338", "e□", "U+0338"},            // a mark with no composed letter
		{"電池", "□□", "U+96FB, U+6C60"},
		{"bell\a", "bell□", "U+0007"},
		{"cut\xff\xfe", "cut□", "U+FFFD"}, // not UTF-8: one for each run of bad bytes
		{"nul\x00l", "nul□l", "U+0000"},
		{"1\ufe0f\u20e3", "1□", "U+20E3"},
		{"𝛀\u0301x", "□x", "U+1D6C0"}, // the mark goes with its letter
		{"", "", ""},
	} {
		ts := newTestTypesetter(t)
		got := ts.printable("the name", c.typed)
		if got != c.want {
			t.Errorf("%q: got %q, want %q", c.typed, got, c.want)
		}
		said := ""
		if len(ts.substituted) > 0 {
			_, said, _ = strings.Cut(ts.substituted[0].Text, "cannot be printed: ")
		}
		if said != c.lacks {
			t.Errorf("%q: said %q, want %q", c.typed, said, c.lacks)
		}
	}
}

// TestWidth compares the layout's measure with the PDF library's own.
func TestWidth(t *testing.T) {
	ts := newTestTypesetter(t)
	pdf := gofpdf.New("P", "mm", "A4", "")
	for _, f := range faces() {
		pdf.AddUTF8FontFromBytes(string(f.name), "", f.ttf)
	}
	for _, f := range faces() {
		pdf.SetFont(string(f.name), "", 9.5)
		for _, s := range []string{"7K3 QX9", "Zażółć gęślą jaźń", "Синий аккумулятор №3", "R = (R_L + r_w) × (V0 / V1 − 1) Ω", "□…“”"} {
			if got, want := ts.width(f.name, 9.5, s), pdf.GetStringWidth(s); math.Abs(got-want) > 0.02 {
				t.Errorf("%s %q: %.3f mm, the PDF library says %.3f mm", f.name, s, got, want)
			}
		}
	}
}

// TestInk checks the shares of the type size against the fonts: capitals and
// descenders stay within them.
func TestInk(t *testing.T) {
	ts := newTestTypesetter(t)
	for _, f := range faces() {
		var buf sfnt.Buffer
		for _, c := range []struct {
			letters  string
			up, down float64
		}{{"HKMX7", capHeight, 0.01}, {"gpqyQ,", capHeight + 0.02, descent}} {
			for _, r := range c.letters {
				i, err := ts.fonts[f.name].GlyphIndex(&buf, r)
				if err != nil {
					t.Fatal(err)
				}
				b, _, err := ts.fonts[f.name].GlyphBounds(&buf, i, fixed.I(1000), font.HintingNone)
				if err != nil {
					t.Fatal(err)
				}
				up, down := -float64(b.Min.Y)/64000, float64(b.Max.Y)/64000
				if up > c.up || down > c.down {
					t.Errorf("%s %q reaches %.3f up and %.3f down", f.name, r, up, down)
				}
			}
		}
	}
}

func TestFit(t *testing.T) {
	ts := newTestTypesetter(t)
	for _, c := range []struct {
		s, want string
		w       float64
		sizePT  float64
	}{
		{"Blue 1", "Blue 1", 40, 11},
		{"Blue 1", "Blue 1", 10, 9.8},
		{"a name that is far too long", "a name that is f…", 20, 7},
		{"Wide", "…", 2.5, 7},
		{"", "", 10, 11},
	} {
		s, sizePT := ts.fit(regular, c.s, c.w, 11, 7)
		if s != c.want || math.Abs(sizePT-c.sizePT) > 0.051 {
			t.Errorf("%q in %g mm: %q at %.2f pt, want %q at %g pt", c.s, c.w, s, sizePT, c.want, c.sizePT)
		}
		if w := ts.width(regular, sizePT, s); w > c.w {
			t.Errorf("%q is %.2f mm wide in %g mm", s, w, c.w)
		}
	}
}
