package charging

import (
	"math"

	"packwright/internal/journal"
	"packwright/internal/measure"
)

const (
	usualLossPct = 30.0 // in 30 days: the upper end of what sellers call ordinary
	leastLossPct = 10.0 // the lowest and highest that sellers give
	mostLossPct  = 35.0

	// furthestDays is how far the loss is carried: makers test it over 28 days,
	// and we go three times as far (own).
	furthestDays = 90.0
)

// left tells what self-discharge has left of the last charge, which is the
// first of the list: the same share goes in equal times.
func (s *Status) left(charges []Charge, r Rules) {
	if s.IdleDays == nil {
		s.LeftText = "no charge is on record"
		return
	}
	last := &charges[0]
	for i := range charges {
		if charges[i].endMS() > last.endMS() {
			last = &charges[i]
		}
	}
	switch journal.ChargeEnd(last.Ended) {
	case journal.EndHot, journal.EndStopped, journal.EndFault:
		s.LeftText = "the last charge did not fill it, so nobody can say what is left"
		return
	}
	days := *s.IdleDays
	if days > furthestDays {
		s.LeftText = "after more than " + measure.Show(furthestDays, "days") + " nobody can say what is left"
		if r.Nothing == "" {
			s.LeftText += ": take it as empty and wake it with slow cycles"
		}
		return
	}
	loss := r.SelfDischargePctMonth
	if !(loss > 0 && loss < 100) {
		loss = usualLossPct
	}
	pct := leftPct(loss, days)
	s.LeftPct = &pct
	s.LeftText = "about " + measure.ShowPercent(pct) + ", if it was full and not used since: with " + measure.ShowPercent(loss) + " lost in 30 days"
	low, high := measure.ShowPercent(leftPct(max(mostLossPct, loss), days)), measure.ShowPercent(leftPct(min(leastLossPct, loss), days))
	if low != high { // within a day or so of the charge there is no telling them apart
		s.LeftText += "; published losses of " + measure.ShowPercent(min(leastLossPct, loss)) + " to " + measure.ShowPercent(max(mostLossPct, loss)) + " leave " + low + " to " + high + ", warmth takes more"
	}
}

func leftPct(lossPctMonth, days float64) float64 {
	return 100 * math.Pow(1-lossPctMonth/100, days/30)
}
