package stock

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"packwright/internal/place"
	"pgregory.net/rapid"
)

const (
	day   = int64(dayMS)
	nowMS = 1_795_564_800_000 // 2026-11-25
)

func ptr[T any](v T) *T { return &v }

func forecast(n int, p float64) []Pack {
	packs := make([]Pack, n)
	for i := range packs {
		packs[i] = Pack{Code: fmt.Sprint(i), Name: fmt.Sprint("pack ", i), FitNow: true, Outcome: "competition", FitThen: p, FitThenKnown: true, DaysSinceTest: ptr(3.0), Closeness: ptr(9.0)}
	}
	return packs
}

func ask() Question {
	return Question{NowMS: nowMS, ThenMS: nowMS + 60*day, Wanted: 8, WantedPct: 95, Price: 45, Currency: "EUR", DeliveryDays: 20, NewFit: 0.95, RetestDays: 30}
}

func TestCompute(t *testing.T) {
	p := Compute(forecast(10, 0.7), ask())
	b := distuv.Binomial{N: 10, P: 0.7}
	if p.Now != 10 || !near(p.Expected, 7, 1e-12) || p.Low != 4 || p.High != 10 || !near(p.SurePct, 100*(1-b.CDF(7)), 1e-9) || len(p.Shares) != 11 {
		t.Errorf("%+v", p)
	}
	if len(p.Unknown) != 0 || len(p.Rules) < 4 {
		t.Errorf("%q, %q", p.Unknown, p.Rules)
	}
	if !p.Buy.Reached || p.Buy.TooLate || *p.Buy.ByMS != nowMS+40*day || *p.Buy.Cost != 45*float64(p.Buy.Packs) {
		t.Errorf("%+v", p.Buy)
	}
	if want := "buy 4, ordered by 4 Jan 2027: then 8 packs fit on 24 Jan 2027 with 98 %; 4 × 45 = 180 EUR"; p.Buy.Text != want {
		t.Errorf("%s", p.Buy.Text)
	}
}

// TestBuyFewest: with new packs as good as the old ones the total is binomial,
// and a general library finds the same fewest number.
func TestBuyFewest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0.2, 0.99).Draw(t, "p")
		n := rapid.IntRange(0, 15).Draw(t, "packs")
		q := ask()
		q.Wanted, q.WantedPct, q.NewFit = rapid.IntRange(1, 12).Draw(t, "wanted"), rapid.Float64Range(50, 99.5).Draw(t, "pct"), p
		b := Compute(forecast(n, p), q).Buy
		// An exact tie, such as 12 of 23 at p = 0.5, falls either way in the last digits: both numbers are right there.
		const tie = 1e-9
		enough := func(extra int, pct float64) bool {
			return n+extra >= q.Wanted && 100*(1-distuv.Binomial{N: float64(n + extra), P: p}.CDF(float64(q.Wanted-1))) >= pct
		}
		if !b.Reached || !enough(b.Packs, q.WantedPct-tie) || b.Packs > 0 && enough(b.Packs-1, q.WantedPct+tie) || b.SurePct < q.WantedPct-tie {
			t.Fatalf("%d packs of %g, %d wanted with %g %%: %+v", n, p, q.Wanted, q.WantedPct, b)
		}
	})
	// One fit pack out of new ones alone: n = ln(1 − C) / ln(1 − p), rounded up (the
	// success-run formula, from memory).
	for _, p := range []float64{0.5, 0.8, 0.95} {
		q := ask()
		q.Wanted, q.NewFit = 1, p
		if got, want := Compute(nil, q).Buy.Packs, int(math.Ceil(math.Log(0.05)/math.Log(1-p)-1e-9)); got != want {
			t.Errorf("p = %g: %d, want %d", p, got, want)
		}
	}
}

// TestBuySentences: what is bought by when, and when it is plainly too late.
func TestBuySentences(t *testing.T) {
	for _, c := range []struct {
		name   string
		packs  []Pack
		change func(*Question)
		want   string
		late   bool
		short  string
	}{
		{"enough", forecast(12, 0.9), func(q *Question) {}, "none to buy: 8 packs fit on 24 Jan 2027 with 99.5 %", false, "nothing"},
		{"certain", forecast(8, 1), func(q *Question) {}, "none to buy: 8 packs fit on 24 Jan 2027 with 100 %", false, ""},
		{"nothing asked", forecast(2, 0.5), func(q *Question) { q.Wanted = 0 }, "no number of packs is asked for", false, ""},
		{"no price", nil, func(q *Question) { q.Price, q.NewFit, q.Wanted = 0, 1, 1 }, "buy 1, ordered by 4 Jan 2027: then 1 pack fit on 24 Jan 2027 with 100 %", false, "1 pack, order by 4 Jan 2027"},
		{"last day", nil, func(q *Question) { q.DeliveryDays, q.NewFit, q.Wanted = 60, 1, 2 }, "buy 2, ordered by 25 Nov 2026: then 2 packs fit on 24 Jan 2027 with 100 %; 2 × 45 = 90 EUR", false, "2 packs, order by 25 Nov 2026"},
		{"too late", nil, func(q *Question) { q.DeliveryDays, q.NewFit, q.Wanted = 61, 1, 2 },
			"too late: 2 more packs should have been ordered by 24 Nov 2026 to have 2 packs fit on 24 Jan 2027; ordered today they are ready about 25 Jan 2027, so ask for a faster delivery, or borrow; 2 × 45 = 90 EUR", true, "2 packs, too late to order: ordered today they are ready about 25 Jan 2027, with 61 days for delivery"},
		{"past", nil, func(q *Question) { q.ThenMS, q.NewFit, q.Wanted = nowMS-day, 1, 1 }, "the day is past; 1 more pack would make 1 pack fit with 100 %; 1 × 45 = 45 EUR", true, "1 pack"},
		{"no help", forecast(3, 0.9), func(q *Question) { q.NewFit = 0 }, "even 1000 new packs do not make 8 packs fit with 95 %: ask for fewer, or for less certainty", false, "it cannot be reached by buying"},
		{"absurd", nil, func(q *Question) { q.Wanted = math.MaxInt }, "", false, ""},
	} {
		q := ask()
		c.change(&q)
		b := Compute(c.packs, q).Buy
		if c.short != "" && b.Short != c.short {
			t.Errorf("%s in short: %s, want %s", c.name, b.Short, c.short)
		}
		if c.want != "" && b.Text != c.want || b.TooLate != c.late || !b.Reached != strings.HasPrefix(b.Text, "even") {
			t.Errorf("%s:\n got %s\nwant %s\n%+v", c.name, b.Text, c.want, b)
		}
	}
}

// TestUntestedPacks: nothing counts on them, but the plan says what it would be
// if they proved fit, as a plan in which they have been tested says itself.
func TestUntestedPacks(t *testing.T) {
	fresh := func(name string) Pack {
		return Pack{Name: name, Outcome: "untested", Untested: true, FitThenKnown: true}
	}
	fleet := func(more ...Pack) []Pack { return append(forecast(6, 1), more...) }
	plan := func(packs []Pack) Plan {
		q := ask()
		q.NewFit, q.WantedPct = 1, 90
		return Compute(packs, q)
	}
	stopped, resting := fresh("stopped"), fresh("resting")
	stopped.Outcome, resting.Rests = "set-aside", true
	for _, c := range []struct {
		packs []Pack
		want  string
	}{
		{fleet(fresh("Coot")), "test Coot first: if it is fit, it is one fewer"},
		{fleet(stopped, resting), ""},
		{fleet(fresh("Coot"), fresh("Rail"), stopped), "test Coot and Rail first: if all are fit, it is one fewer"}, // of two with 94 % both stay fit with 88 %
		{fleet(fresh("A"), fresh("B"), fresh("C"), fresh("D")), "test A, B, C and 1 more first: if all are fit, none is to be bought"},
		{forecast(12, 0.99)[:0], ""},
		{append(forecast(12, 0.99), fresh("Coot")), ""}, // none to buy anyway
	} {
		p := plan(c.packs)
		if p.Buy.TestFirst != c.want {
			t.Errorf("%d packs, buy %d: %q, want %q", len(c.packs), p.Buy.Packs, p.Buy.TestFirst, c.want)
		}
	}
	packs := fleet(fresh("Coot"), fresh("Rail"))
	before := plan(packs)
	for i := range packs[6:] {
		packs[6+i].Untested, packs[6+i].FitNow, packs[6+i].FitThen, packs[6+i].FitThenKnown = false, true, 1, false
	}
	if after := plan(packs); before.Buy.Packs-after.Buy.Packs != 1 || before.Expected != 6 {
		t.Errorf("buy %d untested and %d tested, of %g expected", before.Buy.Packs, after.Buy.Packs, before.Expected)
	}
}

// TestReferencePackRests: it counts neither now nor then, and the rules say so.
func TestReferencePackRests(t *testing.T) {
	packs := forecast(3, 1)
	packs[1].Rests = true
	p := Compute(packs, ask())
	if p.Now != 2 || p.Expected != 2 || p.High != 2 || len(p.Shares) != 4 {
		t.Errorf("%+v", p)
	}
	if rules := strings.Join(p.Rules, " "); !strings.Contains(rules, "The team's reference pack (pack 1) rests: ") {
		t.Errorf("%s", rules)
	}
	packs[1].Rests = false
	if rules := strings.Join(Compute(packs, ask()).Rules, " "); strings.Contains(rules, "reference pack") {
		t.Errorf("%s", rules)
	}
}

// TestDoubtful: packs that are not fit now count with their chance, the likeliest
// is named first.
func TestDoubtful(t *testing.T) {
	packs := forecast(4, 0.9)
	if p := Compute(packs, ask()); p.Doubtful != "" {
		t.Errorf("%s", p.Doubtful)
	}
	packs[0].FitNow, packs[0].FitThen, packs[0].Outcome = false, 0.2, "retest"
	packs[1].FitNow, packs[1].FitThen, packs[1].Outcome = false, 0.66, "retest"
	packs[2].FitNow, packs[2].FitThen = false, 0.001
	if p := Compute(packs, ask()); !strings.Contains(p.Doubtful, "(pack 1 66 % and pack 0 20 %)") {
		t.Errorf("%s", p.Doubtful)
	}
}

// Days are counted by the calendar of the place: late in the evening 20 times 24
// hours across the end of summer time, or its beginning, miss by a day.
func TestDaysAcrossAShift(t *testing.T) {
	clock := place.Clock{{EastMin: 60}, {FromMS: 1_774_746_000_000, EastMin: 120}, {FromMS: 1_792_890_000_000, EastMin: 60}} // 29 March and 25 October 2026, 01:00 UTC
	for _, c := range []struct{ now, then, by, ready string }{
		{"2026-10-20T23:30:00+02:00", "2026-11-05T12:00:00+01:00", "16 Oct 2026", "9 Nov 2026"},
		{"2026-11-05T00:30:00+01:00", "2026-11-05T00:30:00+01:00", "16 Oct 2026", "25 Nov 2026"},
		{"2026-03-20T23:30:00+01:00", "2026-04-05T00:10:00+02:00", "16 Mar 2026", "9 Apr 2026"},
	} {
		q := ask()
		q.Clock, q.Wanted, q.NewFit = clock, 1, 1
		q.NowMS, _ = place.TimeMS(c.now)
		q.ThenMS, _ = place.TimeMS(c.then)
		if text := Compute(nil, q).Buy.Text; !strings.Contains(text, "ordered by "+c.by+" to have") || !strings.Contains(text, "ready about "+c.ready+",") {
			t.Errorf("%s: %s", c.now, text)
		}
	}
	// 41 days of 24 hours ago, in summer time still, it was half past midnight a day later.
	q := ask()
	q.Clock = clock
	q.NowMS, _ = place.TimeMS("2026-11-05T23:40:00+01:00")
	old := forecast(1, 0.9)
	old[0].DaysSinceTest = ptr(41.0)
	if why := Compute(old, q).Test[0].Why[0]; why != "last tested 40 days ago, due every 30 days" {
		t.Errorf("%s", why)
	}
}

// TestCarriedOver: a pack without a forecast counts as today, less the chance of
// dropping out: with a mean life of two and a half years 6.4 % in 60 days.
func TestCarriedOver(t *testing.T) {
	packs := forecast(2, 1)
	packs[0].FitThenKnown = false
	packs[1].FitThenKnown, packs[1].FitThen = false, 0 // not fit today, so nothing to doubt
	p := Compute(packs, ask())
	if want := math.Exp(-60 / (2.5 * 365)); !near(p.Expected, want, 1e-12) || !near(want, 1-0.064, 5e-4) {
		t.Errorf("expected %g, want %g", p.Expected, want)
	}
	if len(p.Unknown) != 1 || p.Unknown[0] != "pack 0" || !strings.Contains(strings.Join(p.Rules, " "), "1 pack has no forecast") {
		t.Errorf("%q, %q", p.Unknown, p.Rules)
	}
	q := ask()
	q.ThenMS = nowMS - day
	if p := Compute(packs, q); p.Expected != 1 || !strings.Contains(strings.Join(p.Rules, " "), "The day is past") {
		t.Errorf("a day in the past: %+v", p)
	}
}

func TestRanking(t *testing.T) {
	q := ask()
	base := forecast(1, 0.9)[0]
	with := func(name string, change func(*Pack)) Pack {
		p := base
		p.Name = name
		change(&p)
		return p
	}
	plan := Compute([]Pack{
		with("settled", func(p *Pack) {}),
		with("set aside", func(p *Pack) { p.Outcome, p.Untested = "set-aside", true }),
		with("old", func(p *Pack) { p.DaysSinceTest = ptr(41.0) }),
		with("undecided", func(p *Pack) { p.Closeness = ptr(0.2) }),
		with("rising", func(p *Pack) { p.Rising, p.CrossingMS = true, ptr(nowMS+30*day) }),
		with("untested", func(p *Pack) { p.Untested, p.DaysSinceTest, p.Closeness = true, nil, nil }),
		with("found", func(p *Pack) { p.Findings = 5 }),
	}, q)
	got := []string{}
	for _, l := range plan.Test {
		got = append(got, fmt.Sprintf("%s %.2f: %s", l.Name, l.Rank, strings.Join(l.Why, "; ")))
	}
	want := []string{
		"found 3.10: 5 open findings that a test would settle",
		"untested 3.00: it has no usable test yet",
		"rising 2.10: its resistance rises; it likely crosses the limit about 25 Dec 2026",
		"undecided 1.90: its last test does not decide against the limit",
		"old 1.37: last tested 41 days ago, due every 30 days",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	for ahead, why := range map[int64]string{0: "the day is today", 1: "the day is tomorrow", 14: "the day is in 14 days", 15: ""} {
		q.ThenMS = nowMS + ahead*day
		p := Compute([]Pack{with("near", func(p *Pack) { p.DaysSinceTest = ptr(20.0) })}, q)
		if why == "" != (len(p.Test) == 0) || why != "" && p.Test[0].Why[0] != why {
			t.Errorf("in %d days: %+v", ahead, p.Test)
		}
	}
}

// TestBounds: any numbers at all give a plan that adds up.
func TestBounds(t *testing.T) {
	anything := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, 1, -1, math.NaN(), math.Inf(1), math.Inf(-1)}))
	rapid.Check(t, func(t *rapid.T) {
		var packs []Pack
		for range rapid.IntRange(0, 20).Draw(t, "packs") {
			packs = append(packs, Pack{FitThen: anything.Draw(t, "then"), FitThenKnown: rapid.Bool().Draw(t, "known"), DaysSinceTest: ptr(anything.Draw(t, "days")),
				Closeness: ptr(anything.Draw(t, "closeness")), Findings: rapid.Int().Draw(t, "findings"), Untested: rapid.Bool().Draw(t, "untested")})
		}
		p := Compute(packs, Question{NowMS: rapid.Int64().Draw(t, "now"), ThenMS: rapid.Int64().Draw(t, "then"), Wanted: rapid.IntRange(-5, 40).Draw(t, "wanted"),
			WantedPct: anything.Draw(t, "pct"), Price: anything.Draw(t, "price"), DeliveryDays: anything.Draw(t, "delivery"), NewFit: anything.Draw(t, "new"), RetestDays: anything.Draw(t, "retest")})
		sum := 0.0
		for _, s := range p.Shares {
			sum += s.P
		}
		ok := near(sum, 1, 1e-9) && p.Low >= 0 && p.Low <= p.High && p.High <= len(packs) && p.SurePct >= 0 && p.SurePct <= 100 && p.Buy.SurePct >= 0 && p.Buy.SurePct <= 100+1e-9
		for _, l := range p.Test {
			ok = ok && l.Rank >= 0 && !math.IsInf(l.Rank, 0) && len(l.Why) > 0
		}
		if !ok || p.Buy.Text == "" || p.Buy.Cost != nil && math.IsInf(*p.Buy.Cost, 0) {
			t.Fatalf("%+v", p)
		}
	})
}

func BenchmarkCompute1000(b *testing.B) {
	packs, q := forecast(1000, 0.8), ask()
	q.Wanted = 900
	for b.Loop() {
		Compute(packs, q)
	}
}
