package diagnose

import (
	"math"
	"strconv"

	"packwright/internal/measure"
)

const (
	// leastIdleDays: a fresh charge loses 5 to 10 % on the first day alone (from
	// memory), so a short rest says nothing about a month.
	leastIdleDays = 14.0
	monthDays     = 30.0
	putInDoubt    = 0.1 // share; what chargers show is good to that (common practice, no source)
)

// selfDischarge: a stored pack took more to fill than the team's setting for so
// many idle days; or after days of rest its open voltage is far below that of its
// sisters, which rested as long.
func (h *history) selfDischarge() *Finding {
	f := &Finding{
		Cause: SelfDischarge, Confidence: Possible, Title: "It loses its charge in store", Tests: []string{},
		Action: "charge it full, leave it two weeks, then measure what goes in; use it only on the day it is charged",
		Rule: "charge put in after idle days, by the charge factor, against " + measure.Show(h.rules.SelfDischargePctMonth, "%") +
			" in 30 days (team's setting; sources say 10 to 35 % for ordinary cells); open voltage after days of rest against sisters that rested, too (own rule)",
	}
	h.lossByCharge(f)
	h.lossByVoltage(f)
	if len(f.Evidence) == 0 {
		return nil
	}
	if len(f.Evidence) > 1 {
		f.Confidence = Likely
	}
	return f
}

// lossByCharge compares full charges of a pack that was only stored between them.
func (h *history) lossByCharge(f *Finding) {
	rated := h.RatedAh
	if !(rated > 0) {
		return
	}
	var full *Charge
	for i := range h.Charges {
		c := &h.Charges[i]
		if full != nil && c.Full && c.Stored && c.PutInAh != nil && *c.PutInAh > 0 && *c.PutInAh < 10*rated && !h.drained(full.AtMS, c.StartMS) {
			idle := float64(c.StartMS-full.AtMS) / dayMS
			lost := min(100, *c.PutInAh/h.rules.ChargeFactor/rated*100)
			if month := lost / idle * monthDays; idle >= leastIdleDays && month*(1-putInDoubt) > h.rules.SelfDischargePctMonth {
				f.SinceMS = c.AtMS
				f.Evidence = append(f.Evidence, "after "+strconv.Itoa(int(math.Round(idle)))+" idle days "+measure.ShowDigits(*c.PutInAh, 3, "Ah")+" went in: it had lost about "+measure.ShowPercent(lost)+" of its rating, "+measure.ShowPercent(month)+" in 30 days")
				if month*(1-putInDoubt) > h.rules.SelfDischargePctMonth*(1+putInDoubt) {
					f.Confidence = Likely
				}
			}
		}
		switch {
		case c.Full:
			full = c
		default:
			full = nil
		}
	}
}

// drained: a capacity check took charge out between two times.
func (h *history) drained(fromMS, toMS int64) bool {
	for _, c := range h.Capacities {
		if c.AtMS >= fromMS && c.AtMS < toMS {
			return true
		}
	}
	return false
}

// lossByVoltage looks at tests after days of rest.
func (h *history) lossByVoltage(f *Finding) {
	for i := range h.open {
		r := &h.open[i]
		if !r.rests || r.atMS >= h.lostMS() || !r.beyond(-offV) || r.beyond(-leastShortV) {
			continue
		}
		t := &h.Tests[r.test]
		if f.SinceMS == 0 {
			f.SinceMS = r.atMS
		}
		f.Tests = append(f.Tests, t.ID)
		f.Evidence = append(f.Evidence, "after "+strconv.Itoa(int(math.Round(*t.RestedMin/1440)))+" days of rest it showed "+measure.ShowDigits(r.volts, 4, "V")+", "+measure.ShowRough(-r.offV, "V")+" less than its sisters")
	}
}
