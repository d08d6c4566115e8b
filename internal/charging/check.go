package charging

import (
	"packwright/internal/journal"
	"packwright/internal/measure"
)

// The verdicts on a charge. They are part of the API.
const (
	AsExpected = "as-expected"
	TooLittle  = "too-little"
	TooMuch    = "too-much"
	NotKnown   = "not-known"
)

const (
	usualFactor = 1.1 // simulator, rounded
	slowFactor  = 1.5 // at 0.1 It by time: 1.4 to 1.6, makers' data sheets
	slowIt      = 0.2 // below this share of the rating in ampere a charge is slow (own, between 0.1 and 0.3 It)

	fastMost = 1.2 // of the rating, makers' data sheets
	slowMost = 1.6 // the same at 0.1 It

	// Within these shares of what was expected a charge is as expected; below
	// the first, hardly what was missing has gone in (own).
	leastShare = 0.85
	mostShare  = 1.25
	// slackShare of the rating is added either way, for small charges (own).
	slackShare = 0.05
)

// check compares one charge.
func (c *Charge) check(ratedAh float64, r Rules) Check {
	out := Check{Entry: c.Entry, Verdict: NotKnown}
	factor := c.factor(ratedAh, r)
	switch {
	case known(c.MissingAh):
		expected := float64(*c.MissingAh * factor)
		out.ExpectedAh = &expected
	case c.Purpose == string(journal.Conditioning) && ratedAh > 0:
		expected := float64(ratedAh * factor) // it was discharged before
		out.ExpectedAh = &expected
	}
	if !known(c.PutInAh) {
		out.Text = "nobody noted how much went in"
		if out.ExpectedAh != nil {
			out.Text += "; about " + ah(*out.ExpectedAh) + " were expected"
		}
		return out
	}
	in := *c.PutInAh
	out.PutInAh = &in
	slack := slackShare * max(ratedAh, 0)
	most, words := slowMost, "even a slow charge"
	if known(c.CurrentA) && ratedAh > 0 && *c.CurrentA > slowIt*ratedAh {
		most, words = fastMost, "a fast charge"
	}
	switch {
	case ratedAh > 0 && in > most*ratedAh:
		out.Verdict = TooMuch
		out.Text = ah(in) + " went into a pack of " + ah(ratedAh) + ": makers end " + words + " at " + measure.ShowPercent(100*most) + " of the rating; too much heats the cells, so check the charger's setting before it is used again"
	case out.ExpectedAh == nil:
		out.Text = ah(in) + " went in; nobody noted how much was missing"
	case in < leastShare**out.ExpectedAh-slack:
		out.Verdict = TooLittle
		out.Text = ah(in) + " went in, about " + ah(*out.ExpectedAh) + " were expected"
		if r.Nothing == "" { // what to do with the pack now
			out.Text += ": " + c.shortfall()
		}
	case in > mostShare**out.ExpectedAh+slack:
		out.Verdict = TooMuch
		out.Text = ah(in) + " went in, about " + ah(*out.ExpectedAh) + " were expected: more was missing than noted, or the charger missed the end, which heats the cells; feel the pack, and check the charger's setting"
	default:
		out.Verdict = AsExpected
		out.Text = ah(in) + " went in, about " + ah(*out.ExpectedAh) + " were expected"
	}
	return out
}

// factor is charge put in over charge missing, for this current.
func (c *Charge) factor(ratedAh float64, r Rules) float64 {
	slow := c.Purpose == string(journal.Conditioning)
	if known(c.CurrentA) && ratedAh > 0 {
		slow = *c.CurrentA <= slowIt*ratedAh
	}
	switch {
	case slow:
		return slowFactor
	case r.ChargeFactor > 0:
		return r.ChargeFactor
	}
	return usualFactor
}

// shortfall is what may be the cause of too little (common practice, no source).
func (c *Charge) shortfall() string {
	switch journal.ChargeEnd(c.Ended) {
	case journal.EndHot:
		return "the charger stopped because of heat; let the pack cool, then charge on"
	case journal.EndStopped:
		return "it was stopped by hand, so the pack is not full"
	case journal.EndFault:
		return "the charger reported a fault; look at pack, lead and charger before the next try"
	case journal.EndTimer:
		return "the timer ended it, so the pack is not full"
	}
	return "the charger may have ended too early, as with a hot pack or a bad contact, or a cell is lost; let it rest and compare its voltage with its sisters'"
}

//go:noinline
func ah(v float64) string { return measure.ShowDigits(v, 3, "Ah") }
