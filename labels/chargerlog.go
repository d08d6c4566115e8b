package labels

import "fmt"

const (
	chargersPerPage = 4
	logRowMM        = 9.0
)

// logFields are the columns of one charger and their shares of its width.
var logFields = [...]struct {
	word  string
	share float64
}{{"pack", 0.34}, {"on at", 0.22}, {"off at", 0.22}, {"initials", 0.22}}

// chargerPage draws the log of what is on which charger since when, for
// chargers counted from 0.
func (c checklist) chargerPage(p *page, chargers span) {
	const headMM, fieldMM = 8.0, 5.0
	t := c.t
	c.heading(p, c.title+": charger log")
	t.put(p, regular, 8, listMarginMM, 20.5,
		"A line for each pack put on charge, with the times. A pack that comes off warm cools and rests before it is fitted.")

	left, right, top := listMarginMM, c.w-listMarginMM, gridTopMM-headMM
	first := top + headMM + fieldMM
	rows := int((c.gridBottom() - first) / logRowMM)
	bottom := first + float64(rows)*logRowMM
	n := chargers.to - chargers.from
	w := (right - left) / float64(n)
	for j := range n {
		x := left + float64(j)*w
		t.put(p, bold, 11, x+1.5, top+headMM-2.5, fmt.Sprintf("charger %d", chargers.from+j+1))
		t.put(p, regular, 8, x+w-26, top+headMM-2.5, "set to")
		t.put(p, regular, 8, x+w-4, top+headMM-2.5, "A")
		for _, f := range logFields {
			t.put(p, regular, 7, x+1.5, first-1.5, f.word)
			x += f.share * w
			if x < left+float64(j+1)*w-0.1 {
				p.line(x, top+headMM, x, bottom, 0.1)
			}
		}
		if j > 0 {
			p.line(left+float64(j)*w, top, left+float64(j)*w, bottom, 0.5)
		}
	}
	p.line(left, top+headMM, right, top+headMM, 0.3)
	for i := range rows {
		thick := 0.2
		if i == 0 {
			thick = 0.5
		}
		p.line(left, first+float64(i)*logRowMM, right, first+float64(i)*logRowMM, thick)
	}
	p.rect(box{left, top, right - left, bottom - top}, 0.5)
	c.footing(p)
}
