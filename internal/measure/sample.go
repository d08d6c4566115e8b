package measure

import "math"

// Mean is the arithmetic mean of repeated readings with its type A standard
// uncertainty s/√n and n−1 degrees of freedom (JCGM 100 4.2.3). One reading
// says nothing about scatter: StdUnc is then NaN and DoF 0, because unknown is
// not zero. Mean of no readings is all NaN.
func Mean(readings []float64) Estimate {
	n := float64(len(readings))
	mean := mean(readings)
	if len(readings) < 2 {
		return Estimate{Value: mean, StdUnc: math.NaN()}
	}
	sum := 0.0
	for _, r := range readings {
		sum += Square(r - mean)
	}
	return Estimate{Value: mean, StdUnc: math.Sqrt(sum / float64(n*(n-1))), DoF: n - 1}
}

// Scatter is the type A uncertainty of a result from readings taken in sets, a
// list for each input and the readings of one set at the same place in all of
// them. Such readings drift together. So each set is brought through the
// result's linear form first, Σ c·x, and the scatter is that of the sets: the
// same as Σ Σ c·c·cov of the means (JCGM 100 5.2.2 with 5.2.3, shown in H.2.4),
// but one component with n−1 degrees of freedom, as Welch and Satterthwaite's
// formula wants it. Value is 0; all lists have the length of the first.
func Scatter(sensitivities []float64, lists ...[]float64) Estimate {
	sets := make([]float64, len(lists[0]))
	for i := range sets {
		for j, list := range lists {
			sets[i] += float64(sensitivities[j] * (list[i] - list[0]))
		}
	}
	e := Mean(sets)
	e.Value = 0
	return e
}

func mean(readings []float64) float64 {
	sum := 0.0
	for _, r := range readings {
		sum += r
	}
	return sum / float64(len(readings))
}
