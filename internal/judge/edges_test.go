package judge

import (
	"math"
	"strings"
	"testing"

	"packwright/internal/edge"
	"packwright/internal/loadtest"
)

// TestEdgesOfLimits: what a team may set. The edges of the decision itself are in
// TestGuardBand.
func TestEdgesOfLimits(t *testing.T) {
	limits := func(set func(l *Limits, v float64)) func(v float64) bool {
		return func(v float64) bool {
			l := Limits{CompetitionOhm: 0.1, PracticeOhm: ptr(0.2)}
			set(&l, v)
			return l.Check() != nil
		}
	}
	robot := func(set func(r *Robot, v float64)) func(v float64) bool {
		return func(v float64) bool {
			r := usual.Robot
			set(&r, v)
			_, err := r.MaxResistanceOhm()
			return err != nil
		}
	}
	competition := func(l *Limits, v float64) { l.CompetitionOhm, l.PracticeOhm = v, ptr(100) }
	practice := func(l *Limits, v float64) { l.PracticeOhm = &v }
	edge.Check(t, []edge.Limit{
		{Name: "competition limit above zero", At: 0, Itself: true, Refused: limits(competition)},
		{Name: "highest competition limit", At: 100, Above: true, Refused: limits(competition)},
		{Name: "practice limit not below the other", At: 0.1, Refused: limits(practice)},
		{Name: "highest practice limit", At: 100, Above: true, Refused: limits(practice)},
		{Name: "practice limit above zero", At: 0, Itself: true, Refused: func(v float64) bool {
			l := Limits{CompetitionOhm: math.SmallestNonzeroFloat64, PracticeOhm: &v}
			return l.Check() != nil
		}},
		{Name: "peak current above zero", At: 0, Itself: true, Refused: robot(func(r *Robot, v float64) { r.PeakA = v })},
		{Name: "highest peak current", At: 1000, Above: true, Refused: robot(func(r *Robot, v float64) { r.PeakA = v })},
		{Name: "brown-out above zero", At: 0, Itself: true, Refused: robot(func(r *Robot, v float64) { r.BrownoutV = v })},
		{Name: "brown-out below rest", At: 12.8, Above: true, Itself: true, Refused: robot(func(r *Robot, v float64) { r.BrownoutV = v })},
		{Name: "rest above brown-out", At: 8.8, Itself: true, Refused: robot(func(r *Robot, v float64) { r.RestV = v })},
		{Name: "highest voltage at rest", At: 100, Above: true, Refused: robot(func(r *Robot, v float64) { r.RestV = v })},
	})
}

// TestEdgesOfPlans: the most readings and the smallest load that a plan asks for,
// and ±1 % from which on a load is known well enough.
func TestEdgesOfPlans(t *testing.T) {
	scattered := found(0, 0)
	scattered.Repeats = 2
	scattered.Budget = []loadtest.BudgetLine{{Source: loadtest.Scatter, Sensitivity: 1, StdUnc: 0.01, DegreesOfFreedom: ptr(1)}}
	if ten := expanded(scattered.Budget, 2, 10); ten <= expanded(scattered.Budget, 2, 11) {
		t.Fatalf("ten readings leave %g, and eleven no less", ten)
	}
	test := tested(10, 5, []float64{12.84, 12.84}, []float64{12.71, 12.71})
	r := computed(t, test)
	with := func(ohm float64) float64 {
		changed, _ := withLoad(test, ohm)
		u, _, ok := imagine(changed, r)
		if !ok {
			t.Fatalf("a test with %g Ω cannot be imagined", ohm)
		}
		return r.ResistanceOhm + u
	}
	if with(1.5) >= with(2.2) {
		t.Fatal("a smaller load would not help")
	}
	edge.Check(t, []edge.Limit{
		{Name: "ten readings", At: expanded(scattered.Budget, 2, 10), Refused: func(limit float64) bool {
			return !strings.Contains(moreReadings(scattered, limit), ": 10 in all")
		}},
		{Name: "2.2 Ω", At: with(2.2), Refused: func(limit float64) bool {
			return !strings.HasPrefix(smallerLoad(test, r, limit, ""), "use a load of 2.2 Ω")
		}},
		{Name: "a load known to ±1 %", At: 1, Above: true, Refused: func(pct float64) bool {
			return *measured(tested(10, pct, nil, nil)).LoadTolerancePct != pct
		}},
	})
	for _, limit := range []float64{math.Nextafter(expanded(scattered.Budget, 2, 10), 0), expanded(scattered.Budget, 2, 11)} {
		if step := moreReadings(scattered, limit); step != "" {
			t.Errorf("nobody takes eleven readings: %q", step)
		}
	}
	if step := smallerLoad(test, r, with(1.5), ""); step != "" {
		t.Errorf("a load below 2.2 Ω is asked for: %q", step)
	}
}
