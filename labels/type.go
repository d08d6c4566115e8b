package labels

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"

	"packwright/internal/problem"
)

// face is one of the fonts on paper.
type face string

const (
	regular face = "regular"
	bold    face = "bold"
	mono    face = "mono" // for codes: every character as wide, zero with a stroke
)

// faces gives the fonts in a fixed order.
func faces() []struct {
	name face
	ttf  []byte
} {
	return []struct {
		name face
		ttf  []byte
	}{{regular, goregular.TTF}, {bold, gobold.TTF}, {mono, gomonobold.TTF}}
}

const (
	mmPerPT = mmPerInch / 72

	// capHeight and the others are shares of the type size; the fonts are one
	// family and differ by less than a hundredth.
	capHeight = 0.73
	descent   = 0.21
	leading   = 1.3 // baseline to baseline

	substitute = '□' // for a character the fonts lack
	ellipsis   = "…"
)

// typesetter measures text and makes it printable. It serves one document.
type typesetter struct {
	fonts       map[face]*sfnt.Font
	advance     map[glyph]float64 // memo: share of the type size
	buf         sfnt.Buffer
	wholeWords  bool             // a text that is too long is cut after a word: reports are read, labels only recognised
	substituted []*problem.Error // one for each text with characters the fonts lack
}

type glyph struct {
	face face
	r    rune
}

func newTypesetter() (*typesetter, error) {
	t := &typesetter{fonts: map[face]*sfnt.Font{}, advance: map[glyph]float64{}}
	for _, f := range faces() {
		parsed, err := sfnt.Parse(f.ttf)
		if err != nil {
			return nil, fmt.Errorf("parse font %s: %w", f.name, err)
		}
		t.fonts[f.name] = parsed
	}
	return t, nil
}

// has tells whether all fonts can draw r.
func (t *typesetter) has(r rune) bool {
	if r > 0xFFFF { // the PDF library takes no more than 16 bits
		return false
	}
	for _, f := range faces() {
		if i, err := t.fonts[f.name].GlyphIndex(&t.buf, r); err != nil || i == 0 {
			return false
		}
	}
	return true
}

// printable gives s as it can be printed: composed (NFC), white space as single
// spaces, and a □ for each character that the fonts lack, together with the
// marks that follow it. Characters without ink, such as joiners, are left out.
// what names the text in the problem that is
// kept for the caller.
func (t *typesetter) printable(what, s string) string {
	var b strings.Builder
	var lacking []string
	replaced := false
	for _, r := range norm.NFC.String(strings.ToValidUTF8(s, string(utf8.RuneError))) {
		switch {
		case unicode.IsSpace(r):
			b.WriteByte(' ')
			replaced = false
		case unicode.In(r, unicode.Cf, unicode.Variation_Selector): // no ink of their own
		case replaced && unicode.In(r, unicode.Mn, unicode.Me): // a mark on what was replaced
		case r != utf8.RuneError && !unicode.IsControl(r) && t.has(r):
			b.WriteRune(r)
			replaced = false
		default:
			b.WriteRune(substitute)
			lacking = append(lacking, fmt.Sprintf("U+%04X", r))
			replaced = true
		}
	}
	if len(lacking) > 0 {
		t.substituted = append(t.substituted, problem.Invalidf("", "use letters, digits and common signs",
			"%s, %q, has characters that cannot be printed: %s", what, s, strings.Join(lacking, ", ")))
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// width gives the advance width of s in millimetres.
func (t *typesetter) width(f face, sizePT float64, s string) float64 {
	em := 0.0
	for _, r := range s {
		em += t.advanceOf(glyph{f, r})
	}
	return em * sizePT * mmPerPT
}

// advanceOf gives the advance of a glyph as a share of the type size. The PDF
// library rounds it to a thousandth, and so does this.
func (t *typesetter) advanceOf(g glyph) float64 {
	if a, ok := t.advance[g]; ok {
		return a
	}
	a := 0.5 // unreachable for printable text; a width all the same
	if i, err := t.fonts[g.face].GlyphIndex(&t.buf, g.r); err == nil {
		if adv, err := t.fonts[g.face].GlyphAdvance(&t.buf, i, fixed.I(1000), font.HintingNone); err == nil {
			a = float64(adv.Round()) / 1000
		}
	}
	t.advance[g] = a
	return a
}

// fit makes s at most w wide: first in smaller type down to minPT, then by
// cutting it with an ellipsis, after a word where the document wants it and that
// costs less than a third.
func (t *typesetter) fit(f face, s string, w, sizePT, minPT float64) (string, float64) {
	if got := t.width(f, sizePT, s); got > w {
		sizePT = max(minPT, floorTo(sizePT*w/got, 0.1))
	}
	if t.width(f, sizePT, s) <= w {
		return s, sizePT
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		cut := strings.TrimRight(string(runes[:n]), " ") + ellipsis
		if t.width(f, sizePT, cut) <= w {
			kept := string(runes[:n])
			space := strings.LastIndexByte(kept, ' ')
			if !t.wholeWords || space <= len(kept)*2/3 {
				return cut, sizePT
			}
			if cut = strings.TrimRight(kept[:space], " ") + " " + ellipsis; t.width(f, sizePT, cut) <= w {
				return cut, sizePT
			}
		}
	}
	return ellipsis, sizePT
}

// wrap breaks s at spaces into lines at most w wide. A word that is wider stays
// whole on a line of its own, for fit to cut.
func (t *typesetter) wrap(f face, s string, w, sizePT float64) []string {
	var lines []string
	current := ""
	for _, word := range strings.Fields(s) {
		longer := strings.TrimSpace(current + " " + word)
		if current != "" && t.width(f, sizePT, longer) > w {
			lines = append(lines, current)
			longer = word
		}
		current = longer
	}
	if current != "" {
		lines = append(lines, current)
	}
	return lines
}

// put draws one line of text and gives its right end.
func (t *typesetter) put(p *page, f face, sizePT, x, y float64, s string) float64 {
	w := t.width(f, sizePT, s)
	p.add(text{x: x, y: y, w: w, face: f, sizePT: sizePT, s: s})
	return x + w
}

// putFit draws one line of text at most w wide.
func (t *typesetter) putFit(p *page, f face, sizePT, minPT, x, y, w float64, s string) {
	s, sizePT = t.fit(f, s, w, sizePT, minPT)
	t.put(p, f, sizePT, x, y, s)
}

// putRight draws one line of text that ends at x.
func (t *typesetter) putRight(p *page, f face, sizePT, x, y float64, s string) {
	t.put(p, f, sizePT, x-t.width(f, sizePT, s), y, s)
}

// putCode draws a code in letter-spaced groups and gives its right end.
func (t *typesetter) putCode(p *page, sizePT, x, y float64, code string) float64 {
	r := t.codeText(sizePT, code)
	r.x, r.y = x, y
	p.add(r)
	return x + r.w
}

// codeText sets a code for reading aloud: grouped and letter-spaced.
func (t *typesetter) codeText(sizePT float64, code string) text {
	const spacing = 0.06 // of the type size, after each character
	s := grouped(code)
	spacingMM := spacing * sizePT * mmPerPT
	return text{face: mono, sizePT: sizePT, spacingMM: spacingMM, s: s,
		w: t.width(mono, sizePT, s) + float64(len(s))*spacingMM}
}

// paragraph draws s broken to w and gives the baseline of its last line.
func (t *typesetter) paragraph(p *page, f face, sizePT, x, y, w float64, s string) float64 {
	for i, l := range t.wrap(f, s, w, sizePT) {
		if i > 0 {
			y += sizePT * mmPerPT * leading
		}
		t.put(p, f, sizePT, x, y, l)
	}
	return y
}
