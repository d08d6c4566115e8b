// Package measure holds values with their uncertainty and the laws for
// combining them.
//
// Use this first: make an Estimate of every input quantity (Rectangular for a
// stated bound, Mean for repeated readings), list what each contributes as a
// Component, and call Combine; Expand then gives the interval that holds the
// true value with 95 % probability. Parse and Show are the only places where
// text becomes a number and a number becomes text.
//
// The laws are those of JCGM 100:2008 (the GUM). The clause is named at each
// function. Values are plain float64 in SI units; the unit is in the name of
// the variable that holds them.
//
// Phone and server must agree to the last bit wherever a decision depends on
// it. On some machines Go may fuse x*y+z into one rounding, so such sums write
// float64(x*y) + z, which forbids it.
package measure

import "math"

// Estimate is the value of one quantity with its standard uncertainty, both
// in the same unit.
type Estimate struct {
	Value  float64
	StdUnc float64 // standard uncertainty, ≥ 0; NaN where unknown
	DoF    float64 // degrees of freedom of StdUnc; +Inf where it is taken as exactly known
}

// Rectangular is a value known to lie within ±halfWidth, any place in there
// being as likely as another: u = a/√3 (JCGM 100 4.3.7). The bound itself is
// taken as certain, hence infinite degrees of freedom (G.4.3).
func Rectangular(value, halfWidth float64) Estimate {
	return Estimate{Value: value, StdUnc: math.Abs(halfWidth) / math.Sqrt(3), DoF: math.Inf(1)}
}

// Square is x² rounded on its own, on every machine.
func Square(x float64) float64 { return float64(x * x) }
