// Package stock plans the fleet: how many packs will be fit for competition on
// a day, how many to buy by when, and which to test next.
//
// Use this first: Compute, with a probability for every pack. It takes any
// numbers and always answers; what it made of odd ones stands in Plan.Rules.
//
// The number of fit packs is a sum of independent yes-or-no quantities with
// unequal probabilities. Its distribution, the Poisson binomial, is exact here,
// not approximated; its mean is Σ p and its variance Σ p·(1 − p) (Wang 1993, from
// memory).
package stock

import (
	"cmp"
	"math"
	"strconv"
	"strings"

	"packwright/internal/measure"
)

const dayMS = 86_400_000.0

// lifeDays is the mean life of a pack, by which one without a forecast is
// doubted: two to three seasons, a season a year (common practice, no source).
const lifeDays = 2.5 * 365

// surest is the most that can be asked for, in percent: nothing uncertain is had
// with 100 %.
const surest = 99.9

// usualPct is how sure to be where the question does not say.
const usualPct = 95.0

// Compute answers a Question. Days are those of its place; a day in the past is
// answered for today.
func Compute(packs []Pack, q Question) Plan {
	q = q.tidy()
	p := Plan{ThenMS: q.ThenMS, Wanted: q.Wanted, Unknown: []string{}, Shares: []Share{}, Test: []ToTest{}, Rules: []string{}}
	ps := make([]float64, len(packs))
	stays := math.Exp(-float64(max(0, q.ThenMS-q.NowMS)) / dayMS / lifeDays)
	for i := range packs {
		k := &packs[i]
		if k.Rests {
			continue
		}
		if k.FitNow {
			p.Now++
		}
		ps[i] = probability(k.FitThen)
		if !k.FitThenKnown {
			ps[i] *= stays
			if ps[i] > 0 {
				p.Unknown = append(p.Unknown, k.called())
			}
		}
		p.Expected += ps[i]
	}
	d := counts(ps)
	p.Low, p.High = interval(d)
	for n, share := range d {
		p.Shares = append(p.Shares, Share{Packs: n, P: share})
	}
	p.SurePct = 100 * atLeast(d, q.Wanted)
	p.Buy = buy(d, q)
	p.Buy.TestFirst = testFirst(packs, ps, p.Buy.Packs, stays, q)
	p.Doubtful = doubtful(packs, ps)
	p.Test = toTest(packs, q)
	p.Shown = min(len(p.Test), shownTests)
	p.Rules = rules(packs, &p, q, stays)
	return p
}

// tidy replaces what no question can mean.
func (q Question) tidy() Question {
	q.NowMS, q.ThenMS = min(max(q.NowMS, 0), lastMS), min(max(q.ThenMS, 0), lastMS)
	q.Wanted = max(q.Wanted, 0)
	if !(q.WantedPct > 0) {
		q.WantedPct = usualPct
	}
	q.WantedPct = min(q.WantedPct, surest)
	if !(q.DeliveryDays >= 0 && q.DeliveryDays <= mostDays) {
		q.DeliveryDays = 0
	}
	if !(q.RetestDays > 0 && q.RetestDays <= mostDays) {
		q.RetestDays = usualRetestDays
	}
	q.NewFit = probability(q.NewFit)
	return q
}

const (
	mostDays = 36_500.0        // a longer delivery or interval is none
	lastMS   = 253402300799999 // the last millisecond of the year 9999
)

// past: the day asked about is over.
func (q Question) past() bool { return q.aheadDays() < 0 }

// aheadDays is how many midnights off the day is; negative where it is past.
func (q Question) aheadDays() int { return q.Clock.DaysBetween(q.NowMS, q.ThenMS) }

func (p *Pack) called() string { return cmp.Or(p.Name, p.Code) }

func (q Question) date(ms int64) string { return q.Clock.Words(ms) }

func number(n int) string { return strconv.Itoa(n) }

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return number(n) + " " + many
}

// mended names the packs that a repair may have made fit, which no test has shown.
func mended(packs []Pack) []string {
	var names []string
	for i := range packs {
		if packs[i].Mended != "" {
			names = append(names, packs[i].called())
		}
	}
	return names
}

// Days counts days in words.
func Days(n int) string { return counted(n, "day", "days") }

// rules says in sentences how the plan was made.
func rules(packs []Pack, p *Plan, q Question, stays float64) []string {
	list := []string{
		"The forecast of each pack gives its chance of being within the limit on the day. Out of these chances comes the chance of every number of fit packs (Poisson binomial distribution, exact).",
		"A trend leaves out what meter and load are off, since that shifts all tests of a pack alike. The chances counted here have it in them, so they lie nearer to even than those of a trend.",
		"Packs are taken as independent. A load or meter that is off shifts them all at once, and then the true spread is wider.",
	}
	for i := range packs {
		if packs[i].Rests {
			list = append(list, "The team's reference pack ("+packs[i].called()+") rests: it is tested to check meter and load, is not taken to events, and counts neither now nor then.")
		}
	}
	if n := len(p.Unknown); n > 0 {
		list = append(list, counted(n, "pack has", "packs have")+" no forecast for that day. Today's chance counts there, times "+measure.ShowPercent(100*stays)+
			", since some drop out by then: packs last two to three seasons (common practice, no source).")
	}
	if names := mended(packs); len(names) > 0 {
		list = append(list, "Mended and not tested since, so not counted on: "+strings.Join(names, ", ")+".")
	}
	if q.past() {
		list = append(list, "The day is past: this is for today.")
	}
	list = append(list, "A new pack is taken to be fit with "+measure.ShowPercent(100*q.NewFit)+". The last day to order is the day asked about less "+q.delivery()+" for delivery and running in.")
	return append(list, testRules...)
}
