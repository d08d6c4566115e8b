package judge_test

import (
	"fmt"

	"packwright/internal/judge"
	"packwright/internal/loadtest"
)

// Three packs, one of them not decided by this test.
func ExampleDecideTest() {
	tolerance := 1.0
	limits := judge.Limits{CompetitionOhm: 0.1, Robot: judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20}}
	for _, loaded := range []float64{12.76, 12.73, 12.64} {
		test := loadtest.Test{
			Method: loadtest.KnownLoad, OpenV: []float64{12.84, 12.84}, LoadedV: []float64{loaded, loaded}, LoadOhm: 10, LoadTolerancePct: &tolerance,
			Meter: loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
		}
		r, err := loadtest.Compute(test, loadtest.Options{})
		if err != nil {
			fmt.Println(err)
			return
		}
		d := judge.DecideTest(test, &r, limits, nil)
		fmt.Printf("%s: %s (%.2f)\n", d.Outcome, d.Reason, *d.ProbabilityWithinLimit)
		for _, step := range d.Next {
			fmt.Println(" -", step)
		}
	}
	// Output:
	// competition: 0.063 Ω ± 0.025 Ω is within the limit of 0.1 Ω (1.00)
	// retest: 0.086 Ω ± 0.025 Ω does not decide against the limit of 0.1 Ω (0.85)
	//  - use a load of 4.7 Ω (2.7 A, 34 W; check the set-up first): it would decide (± 0.012 Ω)
	// practice: 0.158 Ω ± 0.026 Ω is above the limit of 0.1 Ω (0.00)
	//  - use it for practice only; check connector and lead before blaming the cells
}
