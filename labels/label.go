package labels

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"packwright/internal/problem"
)

// Type sizes of a label, in points. The smallest is still read at arm's length.
const (
	codeMaxPT   = 23.0
	nameMaxPT   = 11.0
	nameMinPT   = 7.5
	detailMaxPT = 8.0
	detailMinPT = 5.5
)

// row is a line of a label's text before it is placed.
type row struct {
	text
	gapMM float64 // white above its capitals
}

func (r row) capMM() float64 { return capHeight * r.sizePT * mmPerPT }

// layoutLabel draws one label into its content box: the QR on the left, the
// text beside it, each centred in the height.
func layoutLabel(t *typesetter, p *page, content box, pack Pack, qr *qrCode) error {
	dots, ok := fitQR(qr, content)
	if !ok {
		hint := fmt.Sprintf("use an address of at most %d characters, or a larger label", longestBase(pack.Code, qr.level, content))
		if qr.level == "H" {
			hint += fmt.Sprintf(", or level Q for up to %d", longestBase(pack.Code, "Q", content))
		}
		return problem.Invalidf("base_url", hint, "the address of %d characters makes the QR too fine to scan on this label",
			len(qr.payload)-len(payloadOf("", pack.Code)))
	}
	side := qr.sideMM(dots)
	// Whole dots from the content box, which itself is on whole dots on a roll.
	top := content.y + floorTo((content.h-side)/2, dotMM)
	p.add(symbol{box{content.x, top, side, side}, float64(dots) * dotMM, qr})

	column := box{content.x + side, content.y, content.w - side, content.h}
	rows := labelRows(t, column, pack)
	y := column.y + (column.h-height(rows))/2
	for _, r := range rows {
		y += r.gapMM + r.capMM()
		r.x, r.y = column.x, y
		p.add(r.text)
	}
	return nil
}

// height is from the top of the first capitals to below the last line.
func height(rows []row) float64 {
	h := 0.0
	for _, r := range rows {
		h += r.gapMM + r.capMM()
	}
	return h + descent*rows[len(rows)-1].sizePT*mmPerPT
}

// labelRows sets the text of a label for a column: code, name on one line or
// two, capacity and date. The code gives way where all of it is too high.
func labelRows(t *typesetter, column box, pack Pack) []row {
	codePT := min(codeMaxPT, floorTo(column.w/t.codeText(1, pack.Code).w, 0.1))
	rows := []row{{text: t.codeText(codePT, pack.Code)}}
	names, namePT := nameLines(t, column.w, pack.Name)
	for i, l := range names {
		gap := 2.2
		if i > 0 {
			gap = 1.4
		}
		rows = append(rows, row{text{face: bold, sizePT: namePT, s: l, w: t.width(bold, namePT, l)}, gap})
	}
	for i, l := range detailLines(t, column.w, pack) {
		gap := 2.0
		if i > 0 {
			gap = 1.3
		}
		l, sizePT := t.fit(regular, l, column.w, detailMaxPT, detailMinPT)
		rows = append(rows, row{text{face: regular, sizePT: sizePT, s: l, w: t.width(regular, sizePT, l)}, gap})
	}
	if over := height(rows) - column.h; over > 0 {
		codePT -= math.Ceil(10*over/(capHeight*mmPerPT)) / 10
		rows[0].text = t.codeText(codePT, pack.Code)
	}
	return rows
}

// nameLines gives a name on one line where that needs little shrinking, else on
// two of one size; what is too long for two is cut.
func nameLines(t *typesetter, w float64, name string) (lines []string, sizePT float64) {
	const comfortablePT = 9
	if name == "" {
		return nil, 0
	}
	lines = []string{name}
	if t.width(bold, comfortablePT, name) > w {
		lines = t.wrap(bold, name, w, comfortablePT)
	}
	if len(lines) > 2 {
		lines = t.wrap(bold, name, w, nameMinPT)
	}
	if len(lines) > 2 {
		lines = []string{lines[0], strings.Join(lines[1:], " ")}
	}
	sizePT = nameMaxPT
	for _, l := range lines {
		_, fits := t.fit(bold, l, w, nameMaxPT, nameMinPT)
		sizePT = min(sizePT, fits)
	}
	for i, l := range lines {
		lines[i], _ = t.fit(bold, l, w, sizePT, sizePT)
	}
	return lines, sizePT
}

// detailLines gives capacity and date, on one line where they fit.
func detailLines(t *typesetter, w float64, pack Pack) []string {
	var parts []string
	if pack.CapacityAh > 0 {
		parts = append(parts, capacity(pack.CapacityAh))
	}
	if pack.InService != "" {
		parts = append(parts, "in service "+pack.InService)
	}
	if one := strings.Join(parts, ", "); len(parts) == 2 && t.width(regular, detailMaxPT, one) <= w {
		return []string{one}
	}
	return parts
}

// capacity writes ampere hours with at least one decimal: "3.0 Ah".
func capacity(ah float64) string {
	s := strconv.FormatFloat(ah, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s + " Ah"
}
