package diagnose

import (
	"math"
	"slices"
	"strconv"

	"packwright/internal/measure"
	"packwright/internal/place"
)

// clue is what one stretch of a pack's life shows of a contact.
type clue struct {
	sinceMS  int64 // unix ms of the first sign
	tests    []string
	evidence []string
	rules    []string
	strength int  // 1 possible, 2 likely, 3 plain
	past     bool // it was repaired
	clock    place.Clock
}

func (c *clue) add(atMS int64, strength int, rule, evidence string, tests ...string) {
	if len(c.evidence) == 0 || atMS < c.sinceMS {
		c.sinceMS = atMS
	}
	if len(c.evidence) > 0 && strength >= 2 && c.strength >= 2 {
		strength = 3 // two independent signs
	}
	c.strength = max(c.strength, strength)
	c.evidence = append(c.evidence, evidence)
	c.rules = append(c.rules, rule)
	for _, id := range tests {
		if !slices.Contains(c.tests, id) {
			c.tests = append(c.tests, id)
		}
	}
}

const (
	ruleStep    = "a jump that stays is no wear: two levels, four standard errors and 8 % apart, fit better than a line (own rule)"
	ruleComes   = "test days that scatter more than its sisters' do, by chi-squared at one in a thousand, without the wildest one (own rule)"
	ruleWithin  = "readings of one test that scatter 2.5 times as much as the meter's last digits and a hand's 2 % explain (own rule)"
	ruleBack    = "what a repair of the lead brings down was in the lead (own rule)"
	ruleWiggle  = "the voltage on load changes as the lead is moved (common practice, no source)"
	ruleLatest  = "the latest test is beyond the limit of the moving-range chart (NIST/SEMATECH e-Handbook 6.3.2.2)"
	actionOpen  = "wiggle the lead, plug and fuse with the load on and the meter watched; crimp anew what moves the reading, then test again"
	actionFound = "crimp anew or replace what moved the reading there, note the repair, then test again"
)

// contact looks at each stretch between repairs and names a contact where the
// resistance jumped, comes and goes, scatters within a test, moved in a wiggle test,
// or fell back after the repair.
func (h *history) contact(sigma float64) []Finding {
	segments := make([][][]point, len(h.series))
	for i := range h.series {
		segments[i] = h.segments(&h.series[i])
	}
	var list []Finding
	from := int64(math.MinInt64)
	for n, until := range append(slices.Clone(h.cuts), math.MaxInt64) {
		c := clue{past: h.repaired(until), clock: h.rules.Clock}
		var stepOhm float64
		for i := range segments {
			points := segments[i][n]
			stepOhm = max(stepOhm, c.jumps(points, sigma))
			if c.past {
				c.recovery(points, segments[i][n+1], sigma, stepOhm)
			}
			h.within(&c, points)
		}
		place := h.wiggled(&c, from, until)
		if len(c.evidence) > 0 && !(until != math.MaxInt64 && c.strength < 2) { // a possibility of long ago is not worth telling
			list = append(list, c.finding(place))
		}
		from = until
	}
	return list
}

// jumps looks for a jump that stays, a latest test that is off, and days that come
// and go.
func (c *clue) jumps(points []point, sigma float64) float64 {
	n := len(points)
	if n < 3 {
		return 0
	}
	y, limit := ohms(points), jumpLimit(points, sigma)
	at, jump := stepUp(points, sigma)
	if at > 0 {
		c.add(points[at].atMS, 2, ruleStep, "the resistance jumped up by "+measure.ShowRough(jump, "Ω")+" ("+measure.ShowPercent(jump/y[at]*100)+") at the test of "+c.clock.Words(points[at].atMS)+" and stayed",
			idsOf(points[at:])...)
		return jump
	}
	recent := points[max(0, n-mostRecent):]
	if times, ok := comesAndGoes(recent, sigma); ok {
		c.add(times[0].atMS, 2, ruleComes, "it comes and goes: "+strconv.Itoa(len(times))+" of the last "+strconv.Itoa(len(recent))+" test days lie more than "+measure.ShowPercent(leastJump*100)+" above the lower ones, and the days scatter far more than its sisters'", idsOf(times)...)
		return 0
	}
	latest := y[n-1] - median(slices.Clone(y[max(0, n-1-near):n-1]))
	if off := aboveLine(recent); off != nil { // wear makes it higher, too
		latest = min(latest, off[len(off)-1])
	}
	if latest > limit {
		c.add(points[n-1].atMS, 1, ruleLatest, "the latest test is "+measure.ShowRough(latest, "Ω")+" above the ones before it", points[n-1].ids...)
	}
	return 0
}

// recovery compares the days before and after a repair.
func (c *clue) recovery(before, after []point, sigma, stepOhm float64) {
	if len(before) == 0 || len(after) == 0 {
		return
	}
	last, first := before[max(0, len(before)-near):], after[:min(near, len(after))]
	high, low := median(ohms(last[max(0, len(last)-2):])), median(ohms(first))
	words := "from " + measure.ShowDigits(high, 3, "Ω") + " to " + measure.ShowDigits(low, 3, "Ω")
	switch {
	case high-low > jumpLimit(append(slices.Clone(last), first...), sigma):
		c.add(last[len(last)-1].atMS, 3, ruleBack, "the repair brought it down "+words, idsOf(last)...)
	case stepOhm > 0 && high-low < stepOhm/3:
		c.past = false
		c.evidence = append(c.evidence, "the repair since changed little: "+words)
	}
}

// repaired: the pack was repaired then.
func (h *history) repaired(atMS int64) bool {
	return slices.ContainsFunc(h.Repairs, func(r Repair) bool { return r.AtMS == atMS })
}

// within looks for tests whose readings scatter more than meter and hand explain.
func (h *history) within(c *clue, points []point) {
	var ids []string
	var worst float64
	var firstMS, lastMS int64
	recent := points[max(0, len(points)-mostRecent):]
	for i := range recent {
		for _, k := range recent[i].tests {
			t := &h.Tests[k]
			if limit := withinSds * math.Hypot(t.ExplainedOhm, leastSd*t.ResistanceOhm); t.Repeats < 2 || t.ScatterOhm <= limit {
				continue
			}
			if ids = append(ids, t.ID); len(ids) == 1 {
				firstMS = t.AtMS
			}
			lastMS, worst = t.AtMS, max(worst, t.ScatterOhm)
		}
	}
	switch {
	case len(ids) >= fewestTimes:
		c.add(firstMS, 2, ruleWithin, "in "+strconv.Itoa(len(ids))+" tests the readings scatter by up to "+measure.ShowRough(worst, "Ω")+", which meter and hand do not explain", ids...)
	case len(ids) == 1 && lastMS >= recent[max(0, len(recent)-2)].atMS:
		c.add(firstMS, 1, ruleWithin, "in a recent test the readings scatter by "+measure.ShowRough(worst, "Ω")+", which meter and hand do not explain", ids...)
	}
}

// wiggled adds what wiggle tests of the stretch showed, and gives the place that the
// latest of them found, in words.
func (h *history) wiggled(c *clue, from, until int64) (place string) {
	for i := range h.Wiggles {
		w := &h.Wiggles[i]
		if w.AtMS < from || w.AtMS >= until {
			continue
		}
		r, err := JudgeWiggle(w.Wiggle)
		if err != nil {
			continue
		}
		if worst := r.worst(); worst != nil {
			place = wordsOf(worst.Place)
			c.add(w.AtMS, 2, ruleWiggle, r.Text, w.Entry)
		} else if len(c.evidence) > 0 {
			c.evidence = append(c.evidence, "a wiggle test on "+h.rules.Clock.Words(w.AtMS)+" moved nothing")
		}
	}
	return place
}

// finding is what the clues come to; place is what a wiggle test found, or empty.
func (c *clue) finding(place string) Finding {
	f := Finding{
		Cause: ContactOrLead, Confidence: []Confidence{Possible, Likely, Plain}[c.strength-1], Title: "Contact or lead", Evidence: c.evidence,
		Action: actionOpen, SinceMS: c.sinceMS, Tests: c.tests, Past: c.past,
	}
	if place != "" {
		f.Action = place + ": " + actionFound
	}
	if f.Past {
		f.Action = "nothing more: tests are compared anew since then"
	}
	for i, rule := range c.rules {
		if !slices.Contains(c.rules[:i], rule) {
			if f.Rule != "" {
				f.Rule += "; "
			}
			f.Rule += rule
		}
	}
	return f
}
