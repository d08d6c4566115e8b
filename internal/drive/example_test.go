package drive_test

import (
	"fmt"

	"packwright/internal/drive"
	"packwright/internal/judge"
	"packwright/internal/measure"
)

// A pack of 0.095 Ω in an invented robot, full and half full.
func ExampleCompute() {
	q := drive.Question{PackOhm: 0.095, PackStdUnc: 0.004, Cells: 10, Robot: judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20}}
	for _, q.ChargePct = range []float64{100, 50} {
		a, err := drive.Compute(q)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(a.Text)
		fmt.Println(measure.ShowInterval(a.LoadedV.Value, *a.LoadedV.Plus, "V")+",", "browns out at", measure.ShowInterval(a.BrownoutA.Value, *a.BrownoutA.Plus, "A"))
		fmt.Println(a.Rough)
	}
	// Output:
	// At 20 A it keeps 10.9 V: 2.1 V above brown-out.
	// 10.90 V ± 0.28 V, browns out at 42.1 A ± 4.2 A
	// 12.8 V is the team's own rest voltage of a full pack (± 0.23 V, 95 %: packs differ)
	// With 50 % of charge, at 20 A it keeps 10.9 V: 2.1 V above brown-out.
	// 10.90 V ± 0.72 V, browns out at 42 A ± 11 A
	// 12.8 V at rest is rough (± 0.61 V, 95 %): two published curves differ, and at one charge a pack reads higher after charging than after use
}
