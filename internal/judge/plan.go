package judge

import (
	"fmt"
	"math"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// mostReadings is how many readings of one pack a person can be asked for.
const mostReadings = 10

// leastLoadOhm is the smallest load asked for: near 6 A and 70 W a bench test
// with a common resistor ends (common practice, no source).
const leastLoadOhm = 2.2

// planFromBudget says what would decide, from the result alone.
func planFromBudget(r *loadtest.Result, limit float64) []string {
	if step := moreReadings(r, limit); step != "" {
		return []string{step}
	}
	worst := 0
	for i, l := range r.Budget {
		if l.SharePct > r.Budget[worst].SharePct {
			worst = i
		}
	}
	l := r.Budget[worst]
	return []string{fmt.Sprintf("more readings of this kind will not decide; most of the uncertainty (%s) is: %s", measure.ShowPercent(l.SharePct), l.Source)}
}

// planFromTest works out what would decide, most useful first; nothing where nothing
// practical would. Each way is
// tried by computing the test it would be, with the resistance found so far.
// Ways that need more than one change are tried only where one is not enough.
func planFromTest(t loadtest.Test, r *loadtest.Result, limit float64) []string {
	var next []string
	add := func(step string) {
		if step != "" {
			next = append(next, step)
		}
	}
	add(moreReadings(r, limit))
	add(smallerLoad(t, r, limit, ""))
	if t.Method != loadtest.MeasuredCurrent {
		add(one(measured(t), r, limit, "measure the load to ±1 %"))
	}
	if len(next) == 0 {
		add(smallerLoad(measured(t), r, limit, " measured to ±1 %"))
	}
	if len(next) == 0 {
		add(one(finer(t), r, limit, "use a meter with one more digit"))
	}
	if len(next) == 0 {
		add(smallerLoad(finer(measured(t)), r, limit, " measured to ±1 % and a meter with one more digit"))
	}
	return next
}

// moreReadings finds the fewest readings that would decide, if the value and
// the scatter stay; empty where they are unknown or it takes too many.
func moreReadings(r *loadtest.Result, limit float64) string {
	if r.Repeats < 2 || r.BoundOnly {
		return ""
	}
	for n := r.Repeats + 1; n <= mostReadings; n++ {
		u := expanded(r.Budget, r.Repeats, n)
		if decides(r.ResistanceOhm, u, limit) {
			return fmt.Sprintf("take %d more readings: %d in all would decide (± %s), if they stay alike", n-r.Repeats, n, measure.ShowRough(u, "Ω"))
		}
	}
	return ""
}

// smallerLoad finds the gentlest usual load that would decide; and names what
// else has to change with it.
func smallerLoad(t loadtest.Test, r *loadtest.Result, limit float64, and string) string {
	for _, ohm := range loadtest.UsualLoads() {
		changed, smaller := withLoad(t, ohm)
		if !smaller || ohm < leastLoadOhm {
			continue
		}
		if u, test, ok := imagine(changed, r); ok && decides(r.ResistanceOhm, u, limit) {
			return fmt.Sprintf("use a load of %s%s (%s, %s; check the set-up first): it would decide (± %s)", measure.Show(ohm, "Ω"), and,
				measure.ShowRough(*test.CurrentA, "A"), measure.ShowRough(*test.LoadPowerW, "W"), measure.ShowRough(u, "Ω"))
		}
	}
	return ""
}

// one tries one changed test.
func one(changed loadtest.Test, r *loadtest.Result, limit float64, words string) string {
	if u, _, ok := imagine(changed, r); ok && decides(r.ResistanceOhm, u, limit) {
		return fmt.Sprintf("%s: it would decide (± %s)", words, measure.ShowRough(u, "Ω"))
	}
	return ""
}

// measured is the test with each load known to ±1 %, unless it is known better.
func measured(t loadtest.Test) loadtest.Test {
	known := math.Inf(1) // percent
	switch {
	case t.LoadUncertaintyOhm != nil && t.Method == loadtest.TwoLoads:
		known = 100 * math.Sqrt(3) * *t.LoadUncertaintyOhm / min(t.Load1Ohm, t.Load2Ohm)
	case t.LoadUncertaintyOhm != nil:
		known = 100 * math.Sqrt(3) * *t.LoadUncertaintyOhm / t.LoadOhm
	case t.LoadTolerancePct != nil:
		known = *t.LoadTolerancePct
	}
	if known > 1 {
		one := 1.0
		t.LoadTolerancePct, t.LoadUncertaintyOhm = &one, nil
	}
	return t
}

// finer is the test with a display of one more digit.
func finer(t loadtest.Test) loadtest.Test {
	t.Meter.ResolutionV /= 10
	return t
}

// withLoad is the test with another load; smaller is false where that would
// not be a smaller one, or the method knows no load.
func withLoad(t loadtest.Test, ohm float64) (changed loadtest.Test, smaller bool) {
	scale := func(old float64) {
		if t.LoadUncertaintyOhm != nil {
			u := *t.LoadUncertaintyOhm * ohm / old
			t.LoadUncertaintyOhm = &u
		}
	}
	switch {
	case t.Method == loadtest.KnownLoad && ohm < t.LoadOhm:
		scale(t.LoadOhm)
		t.LoadOhm = ohm
	case t.Method == loadtest.TwoLoads && ohm < min(t.Load1Ohm, t.Load2Ohm):
		scale(min(t.Load1Ohm, t.Load2Ohm))
		t.Load1Ohm, t.Load2Ohm = max(t.Load1Ohm, t.Load2Ohm), ohm
	default:
		return t, false
	}
	return t, true
}

// imagine predicts the test for a pack of resistance r.ResistanceOhm, and adds
// the scatter that was seen, for as many readings as before. The scatter is one
// of voltage, so in ohm it goes with the sensitivity to voltage.
func imagine(t loadtest.Test, r *loadtest.Result) (u float64, result loadtest.Result, ok bool) {
	open, ok := openV(t.Method, r)
	if !ok {
		return 0, result, false
	}
	result, err := loadtest.Predict(t, open, r.ResistanceOhm)
	if err != nil {
		return 0, result, false
	}
	budget := result.Budget
	if seen := r.Budget[0]; seen.Source == loadtest.Scatter {
		seen.StdUnc *= perVolt(result.Budget) / perVolt(r.Budget)
		budget = append([]loadtest.BudgetLine{seen}, budget...)
	}
	return expanded(budget, 1, 1), result, true
}

// openV is the pack's open-circuit voltage: as read, or for two loads, where
// nobody reads it, as it follows from the result. It is unknown where r is not
// of a load test.
func openV(method loadtest.Method, r *loadtest.Result) (volt float64, known bool) {
	switch {
	case method != loadtest.TwoLoads && r.OpenV != nil:
		return *r.OpenV, true
	case method == loadtest.TwoLoads && r.LoadedV != nil && r.CurrentA != nil:
		return *r.LoadedV + float64(*r.CurrentA*r.ResistanceOhm), true
	}
	return 0, false
}

// perVolt is how strongly R goes with the voltage readings, ohm per volt.
func perVolt(budget []loadtest.BudgetLine) float64 {
	sum := 0.0
	for _, l := range budget {
		if l.Unit == "V" {
			sum += measure.Square(l.Sensitivity)
		}
	}
	return math.Sqrt(sum)
}

// expanded is the expanded uncertainty of a budget whose scatter, seen with
// before readings, is brought down by taking n.
func expanded(budget []loadtest.BudgetLine, before, n int) float64 {
	components := make([]measure.Component, len(budget))
	for i, l := range budget {
		c := l.Component()
		if l.Source == loadtest.Scatter && n != before {
			c.StdUnc *= math.Sqrt(float64(before) / float64(n))
			c.DoF = float64(n - 1)
		}
		components[i] = c
	}
	u, _ := measure.Expand(measure.Combine(components))
	return u
}

// decides says whether R ± U lies on one side of the limit.
func decides(resistanceOhm, u, limit float64) bool {
	return resistanceOhm+u <= limit || resistanceOhm-u > limit
}
