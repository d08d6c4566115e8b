package diagnose

import (
	"math"
	"strconv"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// roomK is how far from a pack's usual temperature a test still compares, in
// kelvin: half the width of the range in which all do.
const roomK = (cells.ComparableHighC - cells.ComparableLowC) / 2

// usualC is the median temperature of a pack's tests, in °C: a team that always tests in
// a warm hall compares with itself. With few noted it is 20 °C.
func (h *history) usualC() float64 {
	list := make([]float64, 0, len(h.Tests))
	for i := range h.Tests {
		if c := h.Tests[i].TemperatureC; c != nil && h.Tests[i].Excluded == "" {
			list = append(list, *c)
		}
	}
	if len(list) < fewestUsual {
		return (cells.ComparableLowC + cells.ComparableHighC) / 2
	}
	return median(list)
}

// unreadyByRecord says why a test does not compare, by what was noted with it.
// Temperature is no reason where the team has it corrected.
func unreadyByRecord(t *Test, usualC float64, r *Rules) []string {
	if t.Excluded != "" {
		return nil
	}
	var why []string
	if t.Charge == loadtest.ChargePartial {
		why = append(why, "the pack was not full")
	}
	if t.RestedMin != nil && *t.RestedMin < r.RestMin {
		why = append(why, "it had rested "+measure.Show(*t.RestedMin, "min")+" of the "+measure.Show(r.RestMin, "min")+" it takes")
	}
	if c := t.TemperatureC; c != nil && !r.To20C && (*c < cells.ComparableLowC || *c > cells.ComparableHighC) && math.Abs(*c-usualC) > roomK {
		why = append(why, "it was at "+measure.Show(*c, "°C")+", which alone changes the resistance by about "+measure.ShowPercent(math.Abs(cells.ResistanceRatio(*c)-1)*100))
	}
	return why
}

// unreadyByVoltage adds what the open-circuit voltage says: short by less than a
// cell, or by a cell in a test that later ones contradict, is not charged; higher
// than usual is fresh off the charger.
func (h *history) unreadyByVoltage(i int) {
	r := &h.open[i]
	if r.rests || i >= h.lost || !r.beyond(-offV) && !r.beyond(offV) {
		return
	}
	by := measure.ShowDigits(r.volts, 4, "V") + " open is " + measure.ShowRough(math.Abs(r.offV), "V")
	than := " than it usually shows"
	if r.sisters > 0 {
		than += ", and its sisters were not that day"
	}
	if r.offV < 0 {
		by += " less" + than + ": not charged, or charged long before"
	} else {
		by += " more" + than + ": fresh off the charger"
	}
	h.unready[r.test] = append(h.unready[r.test], by)
}

const shownReasons = 3 // of single tests

// notReady gathers the tests that were taken when the pack was not ready. They
// say nothing about the pack.
func (h *history) notReady() *Finding {
	f := &Finding{
		Cause: NotReady, Confidence: Plain, Title: "Tested when it was not ready", Past: true,
		Action: "charge it fully, let it rest and come to room temperature, then test again",
		Rule: "full, rested " + measure.Show(h.rules.RestMin, "min") + " (the team's setting; an hour is common practice, no source), at 20 ± 5 °C (conditions of IEC 61951-2, as quoted in makers' data sheets) or within " + measure.Show(roomK, "K") + " of the pack's other tests (own rule); " +
			"open voltage within " + measure.Show(offV, "V") + " of usual (own rule)",
	}
	latest, n := h.latestMS(), 0
	for i := len(h.Tests) - 1; i >= 0; i-- {
		if len(h.unready[i]) == 0 {
			continue
		}
		t := &h.Tests[i]
		if n++; n <= shownReasons {
			for _, why := range h.unready[i] {
				f.Evidence = append(f.Evidence, h.rules.Clock.Words(t.AtMS)+": "+why)
			}
		}
		f.SinceMS = t.AtMS
		f.Tests = append(f.Tests, t.ID)
		if t.AtMS == latest {
			f.Past = false
		}
	}
	if n == 0 {
		return nil
	}
	if n > shownReasons {
		f.Evidence = append(f.Evidence, "and "+strconv.Itoa(n-shownReasons)+" tests before")
	}
	return f
}
