package measure

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// normal95 is the two-sided 95 % quantile of the normal distribution.
const normal95 = 1.959963984540054

// manyDoF is where Student's t is no longer told from the normal distribution
// (the factor differs by 2 in the sixth decimal).
const manyDoF = 1e6

// CoverageFactor is Student's t for a coverage of 95 % (JCGM 100 G.3, table
// G.2), for any degrees of freedom from 1, whole or not; with infinitely many
// it is that of the normal distribution, 1.96. It is NaN below 1, which the
// formula of Welch and Satterthwaite never gives.
//
// The factor is rounded to nine decimals: far finer than it matters, and wide
// enough to hide the last bits in which two machines' logarithms differ, so
// that phone and server always use the same factor.
func CoverageFactor(dof float64) float64 {
	switch {
	case !(dof >= 1):
		return math.NaN()
	case dof >= manyDoF:
		return roundNine(normal95)
	case dof >= 200:
		return roundNine(series95(dof))
	}
	return roundNine(refine95(series95(dof), dof))
}

// series95 is Student's t as a series about the normal quantile z (Abramowitz
// and Stegun, Handbook of Mathematical Functions, 26.7.5; the coefficients are
// from memory, the test compares with an independent quantile). Four terms are
// good to 3·10⁻¹² from 200 degrees of freedom up and a fair start below.
func series95(dof float64) float64 {
	const (
		z  = normal95
		z2 = z * z
		g1 = (z2 + 1) * z / 4
		g2 = ((5*z2+16)*z2 + 3) * z / 96
		g3 = (((3*z2+19)*z2+17)*z2 - 15) * z / 384
		g4 = ((((79*z2+776)*z2+1482)*z2-1920)*z2 - 945) * z / 92160
	)
	return z + (g1+(g2+(g3+g4/dof)/dof)/dof)/dof
}

// refine95 improves a start by Halley's rule, each step with three times the
// digits: one to three evaluations of the distribution function, where an
// inverse by bisection takes a dozen. Thousands of tests are computed when a
// phone starts.
func refine95(t, dof float64) float64 {
	lnBeta := mathext.Lbeta(0.5, dof/2)
	for range 20 {
		density := math.Exp(-(dof+1)/2*math.Log1p(t*t/dof)-lnBeta) / math.Sqrt(dof)
		newton := (upperTail(t, dof) - 0.025) / density
		step := newton / (1 - newton*t*(dof+1)/(2*(dof+t*t)))
		t += step
		if math.Abs(step) < 1e-4 { // the next one would be below 10⁻¹¹
			break
		}
	}
	return t
}

// upperTail is the probability that Student's t exceeds a positive t.
func upperTail(t, dof float64) float64 {
	return 0.5 * mathext.RegIncBeta(dof/2, 0.5, dof/(dof+t*t))
}

// Expand is the expanded uncertainty U = k·u and the coverage factor k, for a
// coverage of 95 % (JCGM 100 6.2, G.3).
func Expand(c Combined) (expanded, factor float64) {
	factor = CoverageFactor(c.DoF)
	return float64(factor * c.StdUnc), factor
}

// ProbabilityAtMost is the probability that a quantity with this value,
// standard uncertainty and degrees of freedom does not exceed limit: the
// conformance probability of JCGM 106:2012 clause 7, with the normal
// distribution for infinite degrees of freedom and the scaled and shifted
// Student distribution otherwise (JCGM 101:2008 6.4.9). Without uncertainty it
// is 1 at the limit and below, else 0.
func ProbabilityAtMost(limit float64, e Estimate) float64 {
	if e.StdUnc == 0 {
		if e.Value <= limit {
			return 1
		}
		return 0
	}
	z := (limit - e.Value) / e.StdUnc
	if e.DoF >= manyDoF {
		return 0.5 * math.Erfc(-z/math.Sqrt2)
	}
	if z > 0 {
		return 1 - upperTail(z, e.DoF)
	}
	return upperTail(-z, e.DoF)
}

func roundNine(x float64) float64 { return math.Round(x*1e9) / 1e9 }
