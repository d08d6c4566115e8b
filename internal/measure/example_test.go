package measure_test

import (
	"fmt"
	"math"

	"packwright/internal/measure"
)

// A voltmeter's reading and the scatter of repeats, put together and expanded.
func Example() {
	readings := measure.Mean([]float64{12.84, 12.83, 12.85, 12.84})
	display := measure.Rectangular(0, 2*0.01) // 2 counts of 0.01 V

	u := measure.Combine([]measure.Component{
		{Sensitivity: 1, StdUnc: readings.StdUnc, DoF: readings.DoF},
		{Sensitivity: 1, StdUnc: display.StdUnc, DoF: display.DoF},
	})
	expanded, k := measure.Expand(u)
	fmt.Println(measure.ShowInterval(readings.Value, expanded, "V"))
	fmt.Println("k =", measure.Show(k, ""))
	// Output:
	// 12.840 V ± 0.024 V
	// k = 1.9698
}

// JCGM 100:2008 example G.4.1: effective degrees of freedom of a product of
// three, printed there as ν = 19 and t = 2.09.
func ExampleCombine() {
	c := measure.Combine([]measure.Component{
		{Sensitivity: 1, StdUnc: 0.25, DoF: 9},
		{Sensitivity: 1, StdUnc: 0.57, DoF: 4},
		{Sensitivity: 1, StdUnc: 0.82, DoF: 14},
	})
	fmt.Printf("u = %.2f %%, ν = %.1f, k = %.2f\n", c.StdUnc, c.DoF, measure.CoverageFactor(c.DoF))
	// Output: u = 1.03 %, ν = 19.0, k = 2.09
}

// Voltages read in pairs drift together: what they share leaves their
// difference alone.
func ExampleScatter() {
	open, loaded := []float64{12.84, 12.83, 12.82}, []float64{12.71, 12.70, 12.69}
	difference := measure.Scatter([]float64{1, -1}, open, loaded)
	fmt.Printf("each %.4f V, their difference %.4f V\n", measure.Mean(open).StdUnc, difference.StdUnc)
	// Output: each 0.0058 V, their difference 0.0000 V
}

// JCGM 106:2012 clause 7.3.3, example 1: a Zener diode.
func ExampleProbabilityAtMost() {
	p := measure.ProbabilityAtMost(-5.40, measure.Estimate{Value: -5.47, StdUnc: 0.05, DoF: math.Inf(1)})
	fmt.Printf("%.2f\n", p)
	// Output: 0.92
}

func ExampleParse() {
	for _, typed := range []string{"12,84 V", "1280mV", "12840", "12.84 A"} {
		p, err := measure.Parse(typed, measure.Voltage)
		switch {
		case err != nil:
			fmt.Println(err)
		case p.Doubt != "":
			fmt.Println(p.Doubt)
		default:
			fmt.Println(p.Shown)
		}
	}
	// Output:
	// 12.84 V
	// 1.28 V
	// that is 12840 V: did you mean 12.84 V?
	// "A" is not a unit of voltage
}
