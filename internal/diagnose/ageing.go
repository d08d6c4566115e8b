package diagnose

import (
	"math"
	"strconv"

	"packwright/internal/measure"
	"packwright/internal/trend"
)

// Bounds of the rule for ageing. NoisePct of package trend is what one pack repeats;
// twice that without certainty is worth a look (own rule).
const (
	ageingP      = 0.01 // two-sided, of Kendall's test: a fleet has many packs, so 1 and not 5 %
	sureRise     = trend.NoisePct / 100
	clearRise    = 2 * sureRise
	tiredPct     = 50.0 // above its baseline: usually taken from events (common practice, no source)
	donePct      = 100.0
	baselineDays = 3  // comparable test days that make the baseline
	mostPoints   = 40 // more are taken in groups, each its median: the ranks of 40 tell a trend as well
)

// normal95 is the two-sided 95 % quantile of the normal distribution.
const normal95 = 1.959963984540054

// rise is what a stretch of points gained from its first to its last day.
type rise struct {
	share, low float64 // of the level at its start; the lower end of the 95 % interval
	p          float64 // probability of so steady a rise by chance
	days       float64
	n          int
}

// riseOf fits the line of Theil and Sen to points of one segment.
func riseOf(points []point, at20C bool) (rise, bool) {
	points = thinned(points)
	n := len(points)
	if n < trend.FewestOccasions {
		return rise{}, false
	}
	tempco := trend.UsualTemperature()
	x, y, warm := make([]float64, n), ohms(points), make([]float64, n)
	for i := range points {
		x[i] = float64(points[i].atMS-points[0].atMS) / dayMS
		warm[i] = y[i] * math.Exp(tempco.PerKStdUnc*(points[i].tempC-20))
	}
	line, kendall, err := trend.Fit(x, y, nil)
	if err != nil {
		return rise{}, false
	}
	span := x[n-1]
	level := line.At(0).Value
	if !(level > 0) {
		level = median(ohms(points))
	}
	r := rise{share: line.Slope * span / level, low: line.SlopeLow * span / level, p: kendall.P, days: span, n: n}
	if at20C { // the coefficient is one unknown number for all: where it grew colder, it looks like wear
		if other, _, err := trend.Fit(x, warm, nil); err == nil {
			part := normal95 * (other.Slope - line.Slope) * span / level
			r.low = r.share - math.Hypot(r.share-r.low, part)
		}
	}
	return r, true
}

// thinned takes points in groups, so that at most mostPoints are left.
func thinned(points []point) []point {
	size := (len(points) + mostPoints - 1) / mostPoints
	if size < 2 {
		return points
	}
	list := make([]point, 0, mostPoints)
	for from := 0; from < len(points); from += size {
		group := points[from:min(from+size, len(points))]
		c := make([]float64, len(group))
		for i := range group {
			c[i] = group[i].tempC
		}
		one := group[len(group)/2]
		one.ohm, one.tempC = median(ohms(group)), median(c)
		list = append(list, one)
	}
	return list
}

// ageing: the resistance rises steadily in the segment that holds the latest
// tests, by Kendall's test and with the lower end of its interval beyond what one
// pack repeats and beyond what temperature explains. A jump ends the stretch: it is no
// wear.
func (h *history) ageing(sigma, limitOhm float64, a *trend.Analysis) *Finding {
	var best []point
	var found rise
	at20C := false
	for i := range h.series {
		s := &h.series[i]
		segments := h.segments(s)
		points := segments[len(segments)-1]
		if k, _ := stepUp(points, sigma); k > 0 {
			if points = points[k:]; len(points) < trend.FewestOccasions {
				points = segments[len(segments)-1][:k]
			}
		}
		if r, ok := riseOf(points, s.at20C); ok && (best == nil || points[len(points)-1].atMS > best[len(best)-1].atMS) {
			best, found, at20C = points, r, s.at20C
		}
	}
	sure := found.low >= sureRise
	if best == nil || found.p > ageingP || !sure && !(found.share >= clearRise && found.low > 0) {
		return nil
	}
	f := &Finding{
		Cause: AgeingCells, Confidence: Possible, Title: "Cells are ageing", SinceMS: best[0].atMS, Tests: idsOf(best),
		Action: "test it whenever it is due, check its capacity, and plan a successor",
		Rule:   "rise by the slope of Theil and Sen (Sen 1968) with Kendall's test at 1 %; the lower end of its 95 % interval beyond the 5 % that one pack repeats (calculated from an open drive log) and beyond the temperature coefficient's uncertainty",
	}
	f.Evidence = append(f.Evidence, "the resistance rose steadily by "+measure.ShowPercent(found.share*100)+" in "+strconv.Itoa(int(math.Round(found.days)))+" days ("+strconv.Itoa(found.n)+" test days), at least by "+measure.ShowPercent(max(0, found.low)*100)+" (95 %)")
	if at20C {
		f.Evidence = append(f.Evidence, "at 20 °C, so it is not the room")
	}
	if sure {
		f.Confidence = Likely
	}
	if base := h.baseline(best); base > 0 {
		above := (best[len(best)-1].ohm/base - 1) * 100
		f.Evidence = append(f.Evidence, "it is "+measure.ShowPercent(above)+" above its own baseline of "+measure.ShowDigits(base, 3, "Ω"))
		switch {
		case above >= donePct:
			f.Action = "take it out of use: twice the resistance of new cells is their end (common practice, no source)"
		case above >= tiredPct:
			f.Action = "take it from events and plan a successor: half as much again as new is the usual limit (common practice, no source)"
		}
		if sure && above >= tiredPct {
			f.Confidence = Plain
		}
	}
	if !at20C && f.Confidence != Plain {
		f.Confidence = Possible
		f.Evidence = append(f.Evidence, "temperatures were not noted: a room that grew 10 °C colder looks alike")
	}
	if limitOhm > 0 && a != nil && a.Forecast != nil {
		f.Evidence = append(f.Evidence, a.Text)
	}
	return f
}

// baseline is the median of the first comparable days.
func (h *history) baseline(points []point) float64 {
	return median(ohms(points[:min(baselineDays, len(points))]))
}
