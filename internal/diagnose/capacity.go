package diagnose

import (
	"math"
	"strconv"

	"packwright/internal/measure"
)

// capacityFade: the latest capacity check from full to the stop voltage lies
// surely below the team's good share, or surely fell from the first one by more
// than fadePct of the rating.
const fadePct = 15.0

func (h *history) capacityFade() *Finding {
	var list []Capacity
	for _, c := range h.Capacities {
		if c.Reached && c.SharePct > 0 && c.SharePct <= 200 && c.PlusPct >= 0 && c.PlusPct <= 200 {
			list = append(list, c)
		}
	}
	if len(list) == 0 {
		return nil
	}
	first, last := list[0], list[0]
	for _, c := range list[1:] {
		if c.AtMS >= last.AtMS {
			last = c
		}
		if c.AtMS < first.AtMS {
			first = c
		}
	}
	f := &Finding{
		Cause: CapacityFade, Confidence: Likely, Title: "It holds less than it should", SinceMS: last.AtMS, Tests: []string{last.Entry},
		Action: "run it through two or three slow cycles and check again; if it stays so, practice only",
		Rule: "below " + measure.Show(h.rules.CapacityGoodPct, "%") + " of the rating is worn, below " + measure.Show(h.rules.CapacityEndPct, "%") +
			" at its end (team's settings; 60 % ends the endurance test of IEC 61951-2, makers' data sheets; 80 % is usual in power use, from memory)",
	}
	share := measure.ShowInterval(last.SharePct, last.PlusPct, "%")
	fell := first.SharePct - last.SharePct
	switch {
	case last.SharePct+last.PlusPct < h.rules.CapacityEndPct:
		f.Confidence = Plain
		f.Action = "take it out of use, if a second check after two slow cycles says the same"
		f.Evidence = append(f.Evidence, "the latest check gave "+share+" of the rating, surely below "+measure.Show(h.rules.CapacityEndPct, "%"))
	case last.SharePct+last.PlusPct < h.rules.CapacityGoodPct:
		f.Evidence = append(f.Evidence, "the latest check gave "+share+" of the rating, surely below "+measure.Show(h.rules.CapacityGoodPct, "%"))
	case fell > fadePct && fell > math.Hypot(first.PlusPct, last.PlusPct):
		f.Confidence = Possible
		f.Evidence = append(f.Evidence, "it fell from "+measure.ShowInterval(first.SharePct, first.PlusPct, "%")+" to "+share+" of the rating")
	default:
		return nil
	}
	if len(list) > 1 && f.Confidence != Possible {
		f.Evidence = append(f.Evidence, "the first of "+strconv.Itoa(len(list))+" checks gave "+measure.ShowInterval(first.SharePct, first.PlusPct, "%"))
	}
	return f
}
