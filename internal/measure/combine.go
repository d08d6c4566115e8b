package measure

import "math"

// Component is what one input quantity contributes to the uncertainty of a
// result.
type Component struct {
	Sensitivity float64 // ∂result/∂input, unit of the result per unit of the input
	StdUnc      float64 // standard uncertainty of the input, in its unit
	DoF         float64 // degrees of freedom of StdUnc, +Inf where exactly known
}

// Combined is the standard uncertainty of a result.
type Combined struct {
	StdUnc float64 // in the unit of the result
	DoF    float64 // effective degrees of freedom, not rounded; +Inf where exactly known
}

// Combine adds independent components: u² = Σ (cᵢ·uᵢ)² (JCGM 100 5.1.2) with
// the effective degrees of freedom of Welch and Satterthwaite,
// ν = u⁴ / Σ (cᵢ·uᵢ)⁴/νᵢ (G.4.1, equation G.2b).
//
// Correlated inputs are brought into independent components first: readings
// taken in sets by Scatter, and an error common to several inputs as one
// component whose sensitivity is the sum of theirs (5.2.2, note 1).
//
// The degrees of freedom are kept as they come out. G.4.1 rounds them down to
// fit a printed table; a computed quantile needs no table, and rounding would
// make the result jump when one more digit is read.
func Combine(components []Component) Combined {
	var variance, denominator float64
	for _, c := range components {
		v := Square(c.Sensitivity * c.StdUnc)
		variance += v
		if v != 0 && !math.IsInf(c.DoF, 1) {
			denominator += Square(v) / c.DoF
		}
	}
	c := Combined{StdUnc: math.Sqrt(variance), DoF: math.Inf(1)}
	if denominator > 0 {
		c.DoF = Square(variance) / denominator
	}
	return c
}
