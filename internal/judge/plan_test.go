package judge

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// tested is a known-load test of a pack, by its readings.
func tested(load, tolerance float64, open, loaded []float64) loadtest.Test {
	return loadtest.Test{Method: loadtest.KnownLoad, OpenV: open, LoadedV: loaded, LoadOhm: load, LoadTolerancePct: ptr(tolerance), Meter: dmm}
}

func computed(t *testing.T, test loadtest.Test) *loadtest.Result {
	t.Helper()
	r, err := loadtest.Compute(test, loadtest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &r
}

// decidedBy plans for a test that must not be decided yet.
func decidedBy(t *testing.T, test loadtest.Test) ([]string, *loadtest.Result) {
	t.Helper()
	r := computed(t, test)
	d := DecideTest(test, r, usual, nil)
	if d.Outcome != Retest || len(d.Next) == 0 {
		t.Fatalf("%s, next %q: want a retest with a plan", d.Outcome, d.Next)
	}
	return d.Next, r
}

// TestPlanKeepsItsPromise: the load a plan names is taken, the test it would
// be is computed, and it decides; with the next gentler load it does not.
func TestPlanKeepsItsPromise(t *testing.T) {
	test := tested(10, 1, []float64{12.84}, []float64{12.73}) // 0.086 Ω ± 0.025 Ω
	next, r := decidedBy(t, test)
	var ohm float64
	for _, step := range next {
		if _, err := fmt.Sscanf(step, "use a load of %f Ω", &ohm); err == nil {
			break
		}
	}
	if ohm == 0 {
		t.Fatalf("no load in %q", next)
	}
	decided := func(ohm float64) bool {
		changed := tested(ohm, 1, []float64{*r.OpenV}, []float64{*r.OpenV * ohm / (ohm + r.ResistanceOhm)})
		return Decide(computed(t, changed), usual, nil).Outcome == Competition
	}
	if !decided(ohm) {
		t.Errorf("%g Ω was promised to decide", ohm)
	}
	for _, gentler := range loadtest.UsualLoads() {
		if gentler > ohm && gentler < 10 && decided(gentler) {
			t.Errorf("%g Ω decides already, %g Ω was asked for", gentler, ohm)
		}
	}
}

// TestMoreReadings: the number asked for is the smallest that decides.
func TestMoreReadings(t *testing.T) {
	test := tested(2.5, 1, []float64{12.84, 12.84, 12.84}, []float64{12.34, 12.40, 12.44}) // scattering
	next, r := decidedBy(t, test)
	var more, all int
	if _, err := fmt.Sscanf(next[len(next)-1], "take %d more readings: %d in all", &more, &all); err != nil {
		for _, step := range next {
			fmt.Sscanf(step, "take %d more readings: %d in all", &more, &all)
		}
	}
	if all == 0 || all != more+3 {
		t.Fatalf("no number of readings in %q", next)
	}
	decides := func(n int) bool {
		u := expanded(r.Budget, 3, n)
		return r.ResistanceOhm+u <= 0.1 || r.ResistanceOhm-u > 0.1
	}
	if !decides(all) || decides(all-1) {
		t.Errorf("%d readings: decided %t, with one less %t", all, decides(all), decides(all-1))
	}
	// Against a real set of that many: the same pattern of scatter, repeated.
	if r.Budget[0].Source != loadtest.Scatter || expanded(r.Budget, 3, 3) != r.ExpandedUncertaintyOhm {
		t.Errorf("the plan does not start from the test's own uncertainty: %g, %g", expanded(r.Budget, 3, 3), r.ExpandedUncertaintyOhm)
	}
}

// TestMoreReadingsAgainstComputed: what is foretold for twice the readings is
// what a test with every pair read twice gives, but for the known factor in s.
func TestMoreReadingsAgainstComputed(t *testing.T) {
	open, loaded := []float64{12.84, 12.83, 12.85}, []float64{12.30, 12.33, 12.31}
	three := computed(t, tested(2.5, 1, open, loaded))
	six := computed(t, tested(2.5, 1, append(open, open...), append(loaded, loaded...)))
	foretold := expanded(three.Budget, 3, 6)
	// s of six is s of three times √(4/5); undo it in the budget.
	budget := append([]loadtest.BudgetLine(nil), six.Budget...)
	budget[0].StdUnc *= 1.118033988749895
	if got := expanded(budget, 6, 6); got/foretold-1 > 1e-9 || foretold/got-1 > 1e-9 {
		t.Errorf("foretold %g Ω, computed %g Ω", foretold, got)
	}
}

// TestScatterGoesWithTheLoad: the scatter seen is one of voltage; what is
// foretold for another load is what readings that scatter alike give there.
func TestScatterGoesWithTheLoad(t *testing.T) {
	scattered := func(load float64) loadtest.Test {
		on := 12.84 * load / (load + 0.1)
		return tested(load, 1, []float64{12.84, 12.84, 12.84}, []float64{on - 0.05, on, on + 0.05})
	}
	u, _, ok := imagine(tested(2.5, 1, nil, nil), computed(t, scattered(10)))
	want := computed(t, scattered(2.5)).ExpandedUncertaintyOhm
	if !ok || u/want-1 > 0.02 || want/u-1 > 0.02 { // c0 and c1 differ a little, and c0 has no scatter here
		t.Errorf("foretold %g Ω, computed %g Ω", u, want)
	}
}

func TestPlans(t *testing.T) {
	cases := []struct {
		name string
		test loadtest.Test
		want []string
	}{
		{"one reading, coarse set-up", tested(10, 1, []float64{12.84}, []float64{12.73}),
			[]string{"take three readings: one shows no scatter",
				"use a load of 4.7 Ω (2.7 A, 34 W; check the set-up first): it would decide (± 0.012 Ω)"}},
		{"a coarse resistor", tested(2.5, 10, []float64{12.84, 12.84}, []float64{12.40, 12.40}),
			[]string{"measure the load to ±1 %: it would decide (± 0.0066 Ω)"}},
		{"very close", tested(10, 5, []float64{12.84, 12.84}, []float64{12.71, 12.71}),
			[]string{"use a load of 6.8 Ω measured to ±1 % and a meter with one more digit (1.9 A, 24 W; check the set-up first): it would decide (± 0.0021 Ω)"}},
	}
	for _, c := range cases {
		next, _ := decidedBy(t, c.test)
		if strings.Join(next, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s:\n%q, want\n%q", c.name, next, c.want)
		}
	}
}

// TestNothingPractical: a pack that measures the limit itself cannot be decided.
func TestNothingPractical(t *testing.T) {
	test := tested(10, 5, []float64{12.84, 12.84}, []float64{12.84 * 10 / 10.1, 12.84 * 10 / 10.1})
	next, _ := decidedBy(t, test)
	if len(next) != 1 || !strings.HasPrefix(next[0], "nothing practical will decide") {
		t.Errorf("%q", next)
	}
}

// TestOtherMethods: two loads and a measured current are planned with their own
// equations.
func TestOtherMethods(t *testing.T) {
	two := loadtest.Test{Method: loadtest.TwoLoads, Loaded1V: []float64{12.80}, Load1Ohm: 22, Loaded2V: []float64{12.70}, Load2Ohm: 6.8, LoadTolerancePct: ptr(1), Meter: dmm}
	current := loadtest.Test{Method: loadtest.MeasuredCurrent, OpenV: []float64{12.84}, LoadedV: []float64{12.73}, CurrentA: []float64{1.27}, CurrentPct: ptr(1), Meter: dmm}
	for _, c := range []struct {
		test loadtest.Test
		want string
	}{{two, "use a load of"}, {current, "use a meter with one more digit"}} {
		next, r := decidedBy(t, c.test)
		if !strings.Contains(strings.Join(next, "; "), c.want) {
			t.Errorf("%s, %g ± %g Ω: %q", c.test.Method, r.ResistanceOhm, r.ExpandedUncertaintyOhm, next)
		}
	}
}

// TestPlanFromBudget: without the raw test the plan names the worst part.
func TestPlanFromBudget(t *testing.T) {
	r := computed(t, tested(10, 1, []float64{12.84}, []float64{12.73}))
	d := Decide(r, usual, nil)
	if len(d.Next) != 2 || d.Next[1] != "more readings of this kind will not decide; most of the uncertainty (50 %) is: display of the meter, reading on load" {
		t.Errorf("%q", d.Next)
	}
}

func BenchmarkDecideTest(b *testing.B) {
	test := tested(10, 5, []float64{12.84, 12.84, 12.83}, []float64{12.71, 12.70, 12.71})
	r, err := loadtest.Compute(test, loadtest.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		DecideTest(test, &r, usual, nil)
	}
}

// TestPlanForTwoLoads: the plan is the same whichever load was entered first; and
// measuring both loads is what the plan says it is.
func TestPlanForTwoLoads(t *testing.T) {
	fine := loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.001}
	first := loadtest.Test{Method: loadtest.TwoLoads, Loaded1V: []float64{12.795, 12.795}, Load1Ohm: 22, Loaded2V: []float64{12.42, 12.42}, Load2Ohm: 2.7, Meter: fine, LoadTolerancePct: ptr(10)}
	second := first
	second.Load1Ohm, second.Load2Ohm = first.Load2Ohm, first.Load1Ohm
	second.Loaded1V, second.Loaded2V = first.Loaded2V, first.Loaded1V
	next, r := decidedBy(t, first)
	other, _ := decidedBy(t, second)
	if !slices.Equal(next, other) {
		t.Errorf("%q, and the other way round %q", next, other)
	}
	better := second
	better.LoadTolerancePct = ptr(1)
	want := fmt.Sprintf("measure the load to ±1 %%: it would decide (± %s)", measure.ShowRough(computed(t, better).ExpandedUncertaintyOhm, "Ω"))
	if !slices.Contains(next, want) {
		t.Errorf("%g ± %g Ω: %q has no %q", r.ResistanceOhm, r.ExpandedUncertaintyOhm, next, want)
	}
}

// TestMeasuredKeepsWhatIsBetter: a load known to better than ±1 % stays so.
func TestMeasuredKeepsWhatIsBetter(t *testing.T) {
	known := func(pct, ohm *float64) loadtest.Test {
		return loadtest.Test{Method: loadtest.KnownLoad, LoadOhm: 10, LoadTolerancePct: pct, LoadUncertaintyOhm: ohm}
	}
	for _, better := range []loadtest.Test{known(ptr(0.5), nil), known(ptr(1), nil), known(nil, ptr(0.05))} {
		if got := measured(better); got.LoadTolerancePct != better.LoadTolerancePct || got.LoadUncertaintyOhm != better.LoadUncertaintyOhm {
			t.Errorf("%+v", got)
		}
	}
	for _, worse := range []loadtest.Test{known(nil, nil), known(ptr(2), nil), known(nil, ptr(0.06))} {
		if got := measured(worse); got.LoadTolerancePct == nil || *got.LoadTolerancePct != 1 || got.LoadUncertaintyOhm != nil {
			t.Errorf("%+v", got)
		}
	}
}

// Where nothing practical would decide, the decision says what to do instead; and it
// does not where more readings or another load would.
func TestTreatAs(t *testing.T) {
	hopeless := tested(2.5, 1, []float64{13.00, 13.01, 13.00}, []float64{12.50, 12.51, 12.50}) // 0.1 Ω against 0.1 Ω
	d := DecideTest(hopeless, computed(t, hopeless), usual, nil)
	if d.Outcome != Retest || d.TreatAs != Practice || len(d.Next) != 1 || !strings.Contains(d.Next[0], "for practice only, and test it when it is due") {
		t.Errorf("%+v", d)
	}
	for _, test := range []loadtest.Test{tested(10, 1, []float64{12.84}, []float64{12.73}), tested(2.5, 1, []float64{13.00}, []float64{12.50})} {
		if d := DecideTest(test, computed(t, test), usual, nil); d.Outcome != Retest || d.TreatAs != "" {
			t.Errorf("a single reading: %+v", d)
		}
	}
	if d := DecideTest(hopeless, computed(t, hopeless), usual, []string{"swollen"}); d.Outcome != SetAside || d.TreatAs != "" {
		t.Errorf("swollen: %+v", d)
	}
}
