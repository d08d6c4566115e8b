package stock

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"packwright/internal/judge"
	"packwright/internal/measure"
	"packwright/internal/order"
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
			b.Short = "it cannot be reached by buying"
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
	b.Text, b.Short = b.sentence(q), b.inShort(q)
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
			"; ordered today they are ready about " + q.ready() + ", so ask for a faster delivery, or borrow" + b.price(q)
	}
	return "buy " + number(b.Packs) + ", ordered by " + q.date(*b.ByMS) + ": then " + fit(q.Wanted) + " on " + q.date(q.ThenMS) + " with " + sure + b.price(q)
}

// inShort is the sentence for whoever reads no more than a line.
func (b *Buy) inShort(q Question) string {
	packs := counted(b.Packs, "pack", "packs")
	switch {
	case b.Packs == 0:
		return "nothing"
	case q.past():
		return packs
	case b.TooLate:
		return packs + ", too late to order: ordered today they are ready about " + q.ready() + ", with " + q.delivery() + " for delivery"
	}
	return packs + ", order by " + q.date(*b.ByMS)
}

func (q Question) delivery() string {
	if q.DeliveryDays == 1 {
		return Days(1)
	}
	return measure.Show(q.DeliveryDays, "days")
}

// ready is the day on which packs ordered today can be used.
func (q Question) ready() string { return q.date(q.Clock.Later(q.NowMS, q.DeliveryDays)) }

// testFirst says which packs were never tested, so that nothing counts on them,
// and how many are to be bought should all of them prove fit: from then on they
// would stay so as any pack without a forecast does.
func testFirst(packs []Pack, ps []float64, toBuy int, stays float64, q Question) string {
	if toBuy == 0 || q.past() {
		return ""
	}
	proven := slices.Clone(ps)
	var names []string
	for i := range packs {
		if k := &packs[i]; k.Untested && !k.Rests && !k.Held && k.Outcome != string(judge.SetAside) {
			proven[i] = stays
			names = append(names, k.called())
		}
	}
	if len(names) == 0 {
		return ""
	}
	left := buy(counts(proven), q).Packs
	if left >= toBuy {
		return ""
	}
	text := "test " + some(names) + " first: if it is fit, "
	if len(names) > 1 {
		text = "test " + some(names) + " first: if all are fit, "
	}
	switch left {
	case 0:
		return text + "none is to be bought"
	case toBuy - 1:
		return text + "it is one fewer"
	}
	return text + "it is " + number(toBuy-left) + " fewer"
}

// some names three of a list.
func some(names []string) string {
	const most = 3
	switch n := len(names); {
	case n > most:
		return strings.Join(names[:most], ", ") + " and " + number(n-most) + " more"
	case n > 1:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return names[0]
}

// doubtful says why more packs may be fit on the day than are fit now: packs that
// are not, such as one to be tested again, count with their chance, too.
func doubtful(packs []Pack, ps []float64) string {
	const least = 0.01
	var list []int
	for i := range packs {
		if !packs[i].FitNow && ps[i] >= least {
			list = append(list, i)
		}
	}
	order.Stable(list, func(a, b *int) int { return cmp.Compare(ps[*b], ps[*a]) })
	var names []string
	for _, i := range list {
		whole := min(math.Round(100*ps[i]), 99) // as the table beside it has it; no certainty for a pack that is not fit now
		names = append(names, packs[i].called()+" "+measure.Show(whole, "%"))
	}
	if len(names) == 0 {
		return ""
	}
	return "each pack counts with its chance of being fit that day, also one that is not fit now (" + some(names) + "), so it may be more than now"
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
