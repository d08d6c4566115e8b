package trend_test

import (
	"fmt"

	"packwright/internal/loadtest"
	"packwright/internal/trend"
)

// Ten fortnightly tests of one invented pack, with a limit of 0.1 Ω.
func ExampleAnalyse() {
	const day = 86_400_000
	second := 5.0
	var tests []trend.Test
	for i, r := range []float64{0.082, 0.0826, 0.0848, 0.085, 0.0861, 0.0877, 0.0884, 0.0902, 0.0907, 0.0925} {
		tests = append(tests, trend.Test{
			ID: fmt.Sprint(i + 1), AtMS: 1_788_000_000_000 + int64(i)*14*day, Method: loadtest.KnownLoad, ResistanceOhm: r,
			OwnStdUncOhm: 0.0008, CommonStdUncOhm: 0.0005, LoadOhm: 2.5, ReadAfterS: &second, Charge: loadtest.ChargeFull,
		})
	}
	a, err := trend.Analyse(tests, trend.Options{LimitOhm: 0.1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Outcome)
	fmt.Println(a.Text)
	fmt.Printf("slope %.3f mΩ a month, 95 %% between %.3f and %.3f\n", a.Line.Slope*30e3, a.Line.SlopeLow*30e3, a.Line.SlopeHigh*30e3)
	// Output:
	// crossing
	// it rises by 2.8 % in 30 days and crosses 0.1 Ω about 96 days after the latest test: between 76 and 123 days, with 90 % probability
	// slope 2.464 mΩ a month, 95 % between 2.094 and 2.834
}

// The method alone, on the data of Sen (1968): slope 4.
func ExampleFit() {
	line, kendall, err := trend.Fit([]float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(line.Slope, line.Pairs, kendall.S)
	// Output: 4 21 21
}
