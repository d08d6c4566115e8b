package stock

import (
	"cmp"
	"math"
	"strconv"

	"packwright/internal/judge"
	"packwright/internal/measure"
	"packwright/internal/order"
)

// The points of a pack that might be tested next: own choice, so that no one
// reason drowns the others, but a pack of which nothing is known comes first.
const (
	mendedPoints     = 20.0 // before all others: more than these come to
	untestedPoints   = 3.0
	agePoints        = 2.0 // at most, one for every retest interval since the test
	closenessPoints  = 2.0 // at the limit, falling to none two expanded uncertainties off
	risingPoints     = 1.0
	crossingPoints   = 1.0 // more, where the limit is likely crossed by the day
	findingPoints    = 1.5
	mostFindings     = 2
	eventPoints      = 1.0
	eventNearDays    = 14.0 // a pack is tested in the two weeks before an event (common practice)
	usualRetestDays  = 30.0
	shownTests       = 5   // at first: what a team tests in an afternoon
	undecidedBelow   = 1.0 // |R − limit| / U
	closeToLimitFrom = 2.0
)

// testRules is the list's rule in sentences.
var testRules = []string{
	"What to test next: first what was mended and not tested since. Then it goes by points: 3 for never tested; 1 for every retest interval since the last test, 2 at most; up to 2 for closeness to the limit, none from two uncertainties off; 1 for a rising trend and 1 more where it likely crosses the limit by the day; 1.5 for each open finding that a test would settle, two at most; 1 where the event is within 14 days and the last test is older than that. The points are our own choice.",
	"Packs that are set aside or lost a cell are not on the list: see to the cause first.",
}

// toTest ranks the packs that there is a reason to test, most points first.
func toTest(packs []Pack, q Question) []ToTest {
	list := []ToTest{}
	for i := range packs {
		if packs[i].Held || packs[i].Outcome == string(judge.SetAside) {
			continue
		}
		if t := packs[i].points(q); len(t.Why) > 0 {
			list = append(list, t)
		}
	}
	order.Stable(list, func(a, b *ToTest) int {
		return cmp.Or(cmp.Compare(b.Rank, a.Rank), cmp.Compare(a.Name, b.Name), cmp.Compare(a.Code, b.Code))
	})
	return list
}

// points adds up a pack's points, with the reasons worth telling.
func (p *Pack) points(q Question) ToTest {
	t := ToTest{Code: p.Code, Name: p.Name, Why: []string{}}
	add := func(points float64, why string) {
		t.Rank += points
		if why != "" {
			t.Why = append(t.Why, why)
		}
	}
	if p.Mended != "" { // what was found before says nothing now
		add(mendedPoints, p.Mended)
		return t
	}
	if p.Untested {
		add(untestedPoints, "it has no usable test yet")
	}
	if n := min(p.Findings, mostFindings); n > 0 {
		add(findingPoints*float64(n), counted(p.Findings, "open finding", "open findings")+" that a test would settle")
	}
	if c := p.Closeness; c != nil && *c >= 0 && *c < closeToLimitFrom {
		why := "it is close to the limit"
		if *c < undecidedBelow {
			why = "its last test does not decide against the limit"
		}
		add(closenessPoints*(1-*c/closeToLimitFrom), why)
	}
	if p.Rising {
		add(risingPoints, "its resistance rises")
		if p.CrossingMS != nil && *p.CrossingMS <= q.ThenMS {
			add(crossingPoints, "it likely crosses the limit about "+q.date(*p.CrossingMS))
		}
	}
	if d := p.DaysSinceTest; d != nil && *d > 0 {
		why := ""
		if *d >= q.RetestDays {
			why = "last tested " + Days(q.daysSince(*d)) + " ago, due every " + measure.Show(q.RetestDays, "days")
		}
		add(min(agePoints, *d/q.RetestDays), why)
	}
	if !q.past() && float64(q.aheadDays()) <= eventNearDays && (p.DaysSinceTest == nil || *p.DaysSinceTest > eventNearDays) {
		add(eventPoints, eventIn(q.aheadDays()))
	}
	t.Rank = math.Round(t.Rank*100) / 100
	return t
}

// daysSince counts the midnights since a time so many days ago.
func (q Question) daysSince(days float64) int {
	return q.Clock.DaysBetween(q.NowMS-int64(math.Round(min(days, mostDays)*dayMS)), q.NowMS)
}

func eventIn(n int) string {
	switch n {
	case 0:
		return "the day is today"
	case 1:
		return "the day is tomorrow"
	default:
		return "the day is in " + strconv.Itoa(n) + " days"
	}
}
