package judge

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/loadtest"
	"packwright/internal/problem"
)

func ptr(v float64) *float64 { return &v }

var dmm = loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}

// usual is 0.1 Ω for competition and, from 12.8 V, 8.8 V and 20 A, 0.2 Ω for
// practice (common practice, no source).
var usual = Limits{CompetitionOhm: 0.1, Robot: Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20}}

// found is a result of three readings with this R and U.
func found(r, u float64) *loadtest.Result {
	return &loadtest.Result{ResistanceOhm: r, ExpandedUncertaintyOhm: u, StandardUncertaintyOhm: u / 1.959963985, Repeats: 3,
		Budget: []loadtest.BudgetLine{{Source: "all of it", SharePct: 100, Sensitivity: 1, StdUnc: u / 1.959963985}}}
}

// TestGuardBand: each limit at its value and one float on the other side, in
// numbers that are exact in binary.
func TestGuardBand(t *testing.T) {
	l := Limits{CompetitionOhm: 0.125, PracticeOhm: ptr(0.25)}
	const u = 0.03125
	after := func(x float64) float64 { return math.Nextafter(x, 1) }
	cases := []struct {
		r    float64
		want Outcome
	}{
		{0.125 - u, Competition},
		{after(0.125) - u, Retest}, // R + U is one float above the limit
		{0.125 + u, Retest},
		{after(0.125) + u, Practice}, // R − U is one float above the limit
		{0.25 - u, Practice},
		{0.25 + u, Practice},
		{after(0.25) + u, SetAside},
	}
	for _, edge := range []float64{after(0.125) - u + u, after(0.125) + u - u} {
		if edge != after(0.125) {
			t.Fatalf("%g is not exact here", edge)
		}
	}
	for _, c := range cases {
		for _, d := range []Decision{Decide(found(c.r, u), l, nil), DecideTest(loadtest.Test{}, found(c.r, u), l, nil)} {
			if d.Outcome != c.want {
				t.Errorf("R = %.20g Ω: %s, want %s", c.r, d.Outcome, c.want)
			}
			if d.LimitOhm != 0.125 || d.PracticeLimitOhm != 0.25 || d.Reason == "" || d.Next == nil || d.Safety == nil {
				t.Errorf("incomplete: %+v", d)
			}
		}
	}
}

// TestPracticeUndecided: between the limits, but perhaps beyond the practice
// limit: it stays for practice and is asked for a better test.
func TestPracticeUndecided(t *testing.T) {
	edge := Decide(found(0.25-0.03125, 0.03125), Limits{CompetitionOhm: 0.125, PracticeOhm: ptr(0.25)}, nil)
	if len(edge.Next) != 1 {
		t.Errorf("R + U at the practice limit keeps it: %q", edge.Next)
	}
	clear := Decide(found(0.15, 0.02), usual, nil)
	near := Decide(found(0.19, 0.02), usual, nil)
	if clear.Outcome != Practice || near.Outcome != Practice || len(near.Next) != len(clear.Next)+1 ||
		!strings.HasPrefix(near.Next[1], "to know whether it keeps the practice limit of 0.2 Ω: ") {
		t.Errorf("clear %q, near the limit %q", clear.Next, near.Next)
	}
}

// TestSafetyFirst: one finding sets aside, whatever R says.
func TestSafetyFirst(t *testing.T) {
	for _, r := range []*loadtest.Result{found(0.05, 0.001), found(0.1, 0.02), found(0.5, 0.01), nil} {
		d := Decide(r, usual, []string{"swollen", "hot"})
		if d.Outcome != SetAside || !slices.Equal(d.Safety, []string{"swollen", "hot"}) || !strings.Contains(d.Reason, "swollen") || len(d.Next) == 0 {
			t.Errorf("%+v", d)
		}
		if (d.ProbabilityWithinLimit == nil) != (r == nil) {
			t.Errorf("probability %v for %v", d.ProbabilityWithinLimit, r)
		}
	}
}

func TestUntested(t *testing.T) {
	if d := Decide(nil, usual, nil); d.Outcome != Untested || d.ProbabilityWithinLimit != nil || d.PracticeLimitOhm != 0.2 {
		t.Errorf("no test: %+v", d)
	}
	for _, limit := range []float64{0, -1, math.NaN()} {
		if d := Decide(found(0.1, 0.01), Limits{CompetitionOhm: limit}, nil); d.Outcome != Untested {
			t.Errorf("limit %g: %+v", limit, d)
		}
	}
}

func TestBoundOnly(t *testing.T) {
	bound := func(upper float64) *loadtest.Result {
		r := found(upper/2, upper/2)
		r.BoundOnly, r.UpperBoundOhm = true, &upper
		return r
	}
	if d := Decide(bound(0.1), usual, nil); d.Outcome != Competition || d.ProbabilityWithinLimit != nil || d.Reason != "at most 0.1 Ω, within the limit of 0.1 Ω" {
		t.Errorf("at the limit: %+v", d)
	}
	if d := Decide(bound(math.Nextafter(0.1, 1)), usual, nil); d.Outcome != Retest {
		t.Errorf("above the limit: %+v", d)
	}
}

// TestDoubtfulReadings: a reading no pack can give, and a pack that needs
// charge, are not decided on.
func TestDoubtfulReadings(t *testing.T) {
	for _, code := range []string{loadtest.ImplausiblyLow, loadtest.TooLow} {
		r := found(0.01, 0.001)
		r.Warnings = []loadtest.Warning{{Code: code}}
		if d := Decide(r, usual, nil); d.Outcome != Retest || len(d.Next) == 0 {
			t.Errorf("%s: %+v", code, d)
		}
	}
	r := found(0.08, 0.005)
	r.Warnings = []loadtest.Warning{{Code: loadtest.LostCell}, {Code: loadtest.LargeScatter}}
	if d := Decide(r, usual, nil); d.Outcome != Competition || len(d.Next) != 2 || !strings.Contains(d.Next[0], "cell") || !strings.Contains(d.Next[1], "contact") {
		t.Errorf("doubts are not passed on: %+v", d)
	}
}

// TestProbability: the conformance probability of JCGM 106:2012 (table 1: 95 %
// at 1.64 u below the limit; values from memory of the document, recomputed),
// and Student's t where the degrees of freedom are few.
func TestProbability(t *testing.T) {
	r := found(0.1-1.644853627*0.01, 0)
	r.StandardUncertaintyOhm = 0.01
	if p := *Decide(r, usual, nil).ProbabilityWithinLimit; math.Abs(p-0.95) > 1e-9 {
		t.Errorf("normal: %.10f, want 0.95", p)
	}
	r = found(0.1-4.302652730*0.01, 0)
	r.StandardUncertaintyOhm, r.DegreesOfFreedom = 0.01, ptr(2) // table G.2: t = 4.30 for ν = 2
	if p := *Decide(r, usual, nil).ProbabilityWithinLimit; math.Abs(p-0.975) > 1e-9 {
		t.Errorf("Student: %.10f, want 0.975", p)
	}
}

// TestOutcomeNeverImproves: with more resistance or a lower limit no outcome
// gets better; and competition and practice never both fit.
func TestOutcomeNeverImproves(t *testing.T) {
	rank := map[Outcome]int{Competition: 0, Retest: 1, Practice: 2, SetAside: 3}
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(0.0001, 0.05).Draw(t, "U")
		a := rapid.Float64Range(0.01, 0.5).Draw(t, "R")
		b := a + rapid.Float64Range(0, 0.2).Draw(t, "more")
		first, second := Decide(found(a, u), usual, nil), Decide(found(b, u), usual, nil)
		if rank[second.Outcome] < rank[first.Outcome] {
			t.Fatalf("%g Ω is %s, %g Ω is %s", a, first.Outcome, b, second.Outcome)
		}
		if *second.ProbabilityWithinLimit > *first.ProbabilityWithinLimit {
			t.Fatalf("the probability rises from %g to %g", *first.ProbabilityWithinLimit, *second.ProbabilityWithinLimit)
		}
	})
}

// TestWrongDecisionsAreRare: packs exactly at the limit are tested, simulated,
// ten thousand times. Each wrong side may be chosen in one case of forty.
func TestWrongDecisionsAreRare(t *testing.T) {
	const tests, open, load = 10_000, 12.84, 2.5
	r := rand.New(rand.NewPCG(9, 10))
	limits := usual
	outcomes := map[Outcome]float64{}
	for range tests {
		test := loadtest.Test{Method: loadtest.KnownLoad, LoadOhm: load, LoadUncertaintyOhm: ptr(1e-9), Meter: loadtest.Meter{ResolutionV: 1e-6}}
		for range 4 {
			test.OpenV = append(test.OpenV, open+0.01*r.NormFloat64())
			test.LoadedV = append(test.LoadedV, open*load/(load+limits.CompetitionOhm)+0.01*r.NormFloat64())
		}
		result, err := loadtest.Compute(test, loadtest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		outcomes[Decide(&result, limits, nil).Outcome] += 1.0 / tests
	}
	for _, o := range []Outcome{Competition, Practice} {
		if math.Abs(outcomes[o]-0.025) > 0.006 { // four standard deviations
			t.Errorf("%s in %.2f %% of cases, want 2.5 %%", o, 100*outcomes[o])
		}
	}
}

func TestLimits(t *testing.T) {
	if err := usual.Check(); err != nil || usual.Practice() != 0.2 {
		t.Errorf("usual limits: %v, practice %g Ω", err, usual.Practice())
	}
	robot := usual.Robot
	cases := []struct {
		l        Limits
		field    string
		practice float64
	}{
		{Limits{CompetitionOhm: 0, Robot: robot}, "competition_ohm", 0.2},
		{Limits{CompetitionOhm: math.NaN(), Robot: robot}, "competition_ohm", math.NaN()},
		{Limits{CompetitionOhm: 0.1}, "robot.peak_a", 0},
		{Limits{CompetitionOhm: 0.1, Robot: Robot{RestV: 8, BrownoutV: 8.8, PeakA: 20}}, "robot.brownout_v", 0},
		{Limits{CompetitionOhm: 0.1, Robot: Robot{RestV: 12.8, PeakA: 20}}, "robot.brownout_v", 0},
		{Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(0)}, "practice_ohm", 0},
		{Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(math.Inf(1))}, "practice_ohm", 0},
		{Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(0.09)}, "practice_ohm", 0.1},
		{Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(0.1)}, "", 0.1},
		{Limits{CompetitionOhm: 0.3, Robot: robot}, "robot", 0.3},
		{Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(0.15), Robot: Robot{}}, "", 0.15},
	}
	for _, c := range cases {
		p, ok := problem.As(c.l.Check())
		if ok != (c.field != "") || ok && (p.Field != c.field || p.Hint == "") {
			t.Errorf("%+v: %+v, want a problem with %q", c.l, p, c.field)
		}
		if got := c.l.Practice(); got != c.practice && !(math.IsNaN(got) && math.IsNaN(c.practice)) {
			t.Errorf("%+v: practice limit %g Ω, want %g Ω", c.l, got, c.practice)
		}
	}
	if r, err := robot.MaxResistanceOhm(); err != nil || math.Abs(r-0.2) > 1e-15 {
		t.Errorf("(12.8 V − 8.8 V) / 20 A = %g Ω, %v", r, err)
	}
}

// TestNoPracticeLimit: without a usable robot nothing is set aside for its
// resistance alone.
func TestNoPracticeLimit(t *testing.T) {
	if d := Decide(found(5, 0.1), Limits{CompetitionOhm: 0.1}, nil); d.Outcome != Practice || d.PracticeLimitOhm != 0 {
		t.Errorf("%+v", d)
	}
}

// TestACReading: an a.c. reading leaves out charge transfer and diffusion, so the
// d.c. value that the limits are about is at least as large. Above a limit it
// counts like any other; within, it decides nothing, and there is no probability.
func TestACReading(t *testing.T) {
	const judgeByLoad = "judge it by a load test"
	bound := func(upper float64) *loadtest.Result {
		r := found(upper/2, upper/2)
		r.BoundOnly, r.UpperBoundOhm = true, &upper
		return r
	}
	for _, c := range []struct {
		name     string
		r        *loadtest.Result
		dc, ac   Outcome
		loadTest bool
	}{
		{"within", found(0.06, 0.001), Competition, Retest, true},
		{"at the limit", found(0.1-0.001, 0.001), Competition, Retest, true},
		{"a bound", bound(0.05), Competition, Retest, true},
		{"undecided", found(0.1, 0.01), Retest, Retest, true},
		{"above", found(0.15, 0.01), Practice, Practice, true}, // perhaps beyond the practice limit
		{"beyond", found(0.25, 0.01), SetAside, SetAside, false},
	} {
		if d := Decide(c.r, usual, nil); d.Outcome != c.dc || (d.ProbabilityWithinLimit == nil) != c.r.BoundOnly {
			t.Errorf("%s, d.c.: %+v", c.name, d)
		}
		c.r.Method = loadtest.DirectAC
		d := Decide(c.r, usual, nil)
		if d.Outcome != c.ac || d.ProbabilityWithinLimit != nil || strings.Contains(strings.Join(d.Next, "; "), judgeByLoad) != c.loadTest {
			t.Errorf("%s, a.c.: %+v", c.name, d)
		}
	}
	r := found(0.06, 0.001)
	r.Method = loadtest.DirectAC
	d := Decide(r, usual, nil)
	if d.Reason != "an a.c. reading of 0.0600 Ω ± 0.0010 Ω is within the limit of 0.1 Ω, but a d.c. value is higher" || !slices.Equal(d.Next, []string{judgeByLoad}) {
		t.Errorf("%q, %q", d.Reason, d.Next)
	}
}

// TestOneReading: whatever is decided on one reading, the first step says what
// it cannot show.
func TestOneReading(t *testing.T) {
	outcomes := map[Outcome]bool{}
	for _, ohm := range []float64{0.05, 0.1, 0.15, 0.19, 0.5} {
		r := found(ohm, 0.02)
		r.Repeats = 1
		test := loadtest.Test{Method: loadtest.KnownLoad, LoadOhm: 10}
		for _, d := range []Decision{Decide(r, usual, nil), DecideTest(test, r, usual, nil)} {
			outcomes[d.Outcome] = true
			if len(d.Next) == 0 || d.Next[0] != "take three readings: one shows no scatter" || strings.Contains(strings.Join(d.Next[1:], ""), "scatter") {
				t.Errorf("%g Ω, %s: %q", ohm, d.Outcome, d.Next)
			}
		}
	}
	if len(outcomes) != 4 {
		t.Errorf("not all outcomes: %v", outcomes)
	}
}
