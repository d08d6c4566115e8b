package diagnose

import (
	"math"
	"strconv"
	"strings"

	"packwright/internal/journal"
	"packwright/internal/measure"
)

// findLostCell finds the run of readings, up to the latest one or up to work on
// the cells, that are all short by a cell. Where the later ones came back, the pack
// was not charged; but a single one among two that are short was itself wrong, such as
// fresh off the charger.
func (h *history) findLostCell() {
	h.lost = len(h.open)
	if n := len(h.open); n > 0 && h.mended(h.open[n-1].atMS, math.MaxInt64) {
		return // the next reading tells
	}
	short := func(i int) bool { return i >= 0 && h.open[i].beyond(-leastShortV) }
	times, wrong := 0, 0
	for i := len(h.open) - 1; i >= 0; i-- {
		switch r := &h.open[i]; {
		case h.lost < len(h.open) && h.mended(r.atMS, h.open[h.lost].atMS):
			return
		case r.rests || math.IsNaN(r.offV) || len(h.unready[r.test]) > 0:
		case short(i):
			h.lost = i
			times++
		case r.beyond(-offV): // says neither
		case wrong == 0 && short(i-1) && (times >= 2 || short(i-2)):
			wrong++
		default:
			return
		}
	}
}

// mended: the cells were worked on between two times.
func (h *history) mended(fromMS, toMS int64) bool {
	for _, r := range h.Repairs {
		if r.Part == journal.RepairCells && r.AtMS >= fromMS && r.AtMS < toMS {
			return true
		}
	}
	return false
}

// lostMS is when a cell was first missing; the end of time where none is.
func (h *history) lostMS() int64 {
	if h.lost >= len(h.open) {
		return math.MaxInt64
	}
	return h.open[h.lost].atMS
}

// lostCell: the open-circuit voltage of the full pack is short by about a cell,
// in every test since, against its own past and its sisters of the day.
func (h *history) lostCell() *Finding {
	if h.lost >= len(h.open) {
		return nil
	}
	var ids []string
	var short []float64
	days, sisters, own := 0, false, false
	last := int64(math.MinInt64 / 2)
	for _, r := range h.open[h.lost:] {
		if !r.beyond(-leastShortV) || r.rests {
			continue
		}
		ids = append(ids, h.Tests[r.test].ID)
		short = append(short, -r.offV)
		sisters = sisters || r.sisters > 0
		own = own || !math.IsNaN(r.ownV)
		if !sameDay(last, r.atMS) {
			days++
			last = r.atMS
		}
	}
	first := h.open[h.lost]
	missing := median(short)
	f := &Finding{
		Cause: LostCell, Confidence: Possible, SinceMS: first.atMS, Tests: ids,
		Action: "charge it once more, attended, let it rest overnight and read the open voltage; if it is still short, mark it, set it aside and charge it no more: a cell that is reversed gases and gets hot. The adult in charge decides what becomes of it",
		Rule:   "a shorted or reversed cell takes 1.2 to 1.3 V off the open voltage (common practice, no source); compared with the pack's own earlier tests and its sisters of the day (own rule)",
	}
	f.Cells = max(1, int(math.Round(missing/cellV)))
	f.Evidence = append(f.Evidence, "the full pack showed "+measure.ShowDigits(first.volts, 4, "V")+", "+measure.ShowRough(missing, "V")+" short"+against(own, sisters)+"; a cell has about 1.25 V")
	switch {
	case days > 1:
		f.Confidence = Likely
		if own && sisters {
			f.Confidence = Plain
		}
		f.Evidence = append(f.Evidence, "so in every test since, on "+strconv.Itoa(days)+" days")
	case own && sisters:
		f.Confidence = Likely
		f.Evidence = append(f.Evidence, "one test day only: a pack that was not charged looks alike")
	default:
		f.Evidence = append(f.Evidence, "one test day and little to compare it with")
	}
	f.Title = f.LostWords()
	f.Title = strings.ToUpper(f.Title[:1]) + f.Title[1:]
	return f
}

// LostWords says that cells are lost, and how sure that is: the one form of words for
// it.
func (f *Finding) LostWords() string {
	cells, are := "a cell", " is "
	if f.Cells > 1 {
		cells, are = strconv.Itoa(f.Cells)+" cells", " are "
	}
	switch f.Confidence {
	case Plain:
		return cells + are + "lost"
	case Likely:
		return cells + are + "likely lost"
	default:
		return cells + " may be lost"
	}
}

func against(own, sisters bool) string {
	switch {
	case own && sisters:
		return " of what it used to show, and its sisters were not short that day"
	case own:
		return " of what it used to show"
	}
	return " of its sisters that day"
}
