package diagnose_test

import (
	"fmt"

	"packwright/internal/diagnose"
	"packwright/internal/loadtest"
	"packwright/internal/trend"
)

// Four packs, tested on six days; one of them lost a cell before the last two.
func Example() {
	const day = 86_400_000
	var packs []diagnose.Pack
	for _, code := range []string{"7K3QX9", "191VCY", "4BW21M", "89DJQW"} {
		p := diagnose.Pack{Code: code, Cells: 10, RatedAh: 3}
		for i := range 6 {
			open := 13.4
			if code == "4BW21M" && i >= 4 {
				open = 12.15
			}
			p.Tests = append(p.Tests, diagnose.Test{
				Test: trend.Test{
					ID: fmt.Sprint(code, i), AtMS: 1_780_000_000_000 + int64(i)*7*day, Method: loadtest.KnownLoad, ResistanceOhm: 0.08,
					LoadOhm: 2.5, ReadAfterS: new(5.0), TemperatureC: new(20.0), Charge: loadtest.ChargeFull,
				},
				OpenV: &open, RestedMin: new(90.0), Repeats: 1, Rig: "bench",
			})
		}
		packs = append(packs, p)
	}
	fleet := diagnose.Survey(packs, diagnose.Rules{})
	for _, p := range packs {
		for _, f := range fleet.Examine(p.Code, 0.1, nil).Findings {
			fmt.Printf("%s: %s (%s)\n  %s\n", p.Code, f.Title, f.Confidence, f.Evidence[0])
		}
	}
	// Output:
	// 4BW21M: A cell is lost (plain)
	//   the full pack showed 12.15 V, 1.2 V short of what it used to show, and its sisters were not short that day; a cell has about 1.25 V
}
