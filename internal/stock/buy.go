package stock

import (
	"math"

	"packwright/internal/measure"
)

// mostNew is where looking for enough new packs ends.
const mostNew = 1000

// buy finds the fewest new packs with which the wanted number is sure enough. d
// is the distribution without them.
func buy(d []float64, q Question) Buy {
	b := Buy{Currency: q.Currency}
	short := make([]float64, q.shortLength(len(d))) // of fewer than wanted only
	copy(short, d)
	allowed := 1 - q.WantedPct/100 + rounding
	for below(short, q.Wanted) > allowed {
		if b.Packs == mostNew || q.NewFit == 0 || q.Wanted > len(d)-1+mostNew {
			b.Packs = 0
			b.SurePct = 100 * atLeast(d, q.Wanted)
			b.Text = "even " + number(mostNew) + " new packs do not make " + fit(q.Wanted) + " with " + measure.Show(q.WantedPct, "%") + ": ask for fewer, or for less certainty"
			return b
		}
		another(short, q.NewFit)
		b.Packs++
	}
	b.Reached = true
	b.SurePct = 100 * (1 - below(short, q.Wanted))
	if b.Packs > 0 {
		by := q.Clock.Later(q.ThenMS, -q.DeliveryDays)
		b.ByMS = &by
		b.TooLate = q.Clock.DaysBetween(q.NowMS, by) < 0
	}
	if q.Price > 0 && q.Price < 1e12 {
		cost := float64(float64(b.Packs) * q.Price)
		b.Cost = &cost
	}
	b.Text = b.sentence(q)
	return b
}

// shortLength is how much of a distribution says whether too few are fit.
func (q Question) shortLength(n int) int {
	return max(1, min(q.Wanted, n+mostNew))
}

func (b *Buy) sentence(q Question) string {
	sure := certainty(b.SurePct)
	switch {
	case q.Wanted == 0:
		return "no number of packs is asked for"
	case b.Packs == 0:
		return "none to buy: " + fit(q.Wanted) + " on " + q.date(q.ThenMS) + " with " + sure
	case q.past():
		return "the day is past; " + counted(b.Packs, "more pack", "more packs") + " would make " + fit(q.Wanted) + " with " + sure + b.price(q)
	case b.TooLate:
		return "too late: " + counted(b.Packs, "more pack", "more packs") + " should have been ordered by " + q.date(*b.ByMS) + " to have " + fit(q.Wanted) + " on " + q.date(q.ThenMS) +
			"; ordered today they are ready about " + q.date(q.Clock.Later(q.NowMS, q.DeliveryDays)) + ", so ask for a faster delivery, or borrow" + b.price(q)
	}
	return "buy " + number(b.Packs) + ", ordered by " + q.date(*b.ByMS) + ": then " + fit(q.Wanted) + " on " + q.date(q.ThenMS) + " with " + sure + b.price(q)
}

func (b *Buy) price(q Question) string {
	if b.Cost == nil {
		return ""
	}
	return "; " + number(b.Packs) + " × " + measure.Show(q.Price, "") + " = " + measure.ShowDigits(*b.Cost, 12, q.Currency)
}

func fit(wanted int) string { return counted(wanted, "pack fit", "packs fit") }

// certainty never shows as 100 % what is short of it.
func certainty(pct float64) string {
	if pct > 99 && pct < 100 {
		return measure.ShowDigits(math.Floor(pct*10)/10, 3, "%")
	}
	return measure.ShowPercent(pct)
}
