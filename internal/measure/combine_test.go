package measure

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestUnknownIsNotZero(t *testing.T) {
	e := Mean([]float64{12.84})
	if e.Value != 12.84 || !math.IsNaN(e.StdUnc) || e.DoF != 0 {
		t.Errorf("one reading: %+v, want its value and an unknown uncertainty", e)
	}
	if e := Scatter([]float64{1, 1}, []float64{12.84}, []float64{12.71}); !math.IsNaN(e.StdUnc) || e.DoF != 0 {
		t.Errorf("one set: %+v, want an unknown uncertainty", e)
	}
	c := Combine([]Component{{1, 0.1, math.Inf(1)}, {1, e.StdUnc, e.DoF}})
	if !math.IsNaN(c.StdUnc) {
		t.Errorf("an unknown component vanished: u = %g", c.StdUnc)
	}
}

func floats(t *rapid.T, name string, n int) []float64 {
	return rapid.SliceOfN(rapid.Float64Range(-1, 1), n, n).Draw(t, name)
}

// covariance is that of the means of paired readings (JCGM 100 5.2.3, equation 17).
func covariance(a, b []float64) float64 {
	ma, mb, n, sum := mean(a), mean(b), float64(len(a)), 0.0
	for i := range a {
		sum += (a[i] - ma) * (b[i] - mb)
	}
	return sum / (n * (n - 1))
}

// TestScatterIsTheGeneralLaw: bringing each set through the linear form is the
// law of propagation with the covariances of the means, u² = Σ Σ c·c·cov
// (JCGM 100 5.2.2, equation 13).
func TestScatterIsTheGeneralLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "n")
		c := floats(t, "c", 3)
		lists := [][]float64{floats(t, "a", n), floats(t, "b", n), floats(t, "d", n)}
		variance := 0.0
		for i := range lists {
			for j := range lists {
				variance += c[i] * c[j] * covariance(lists[i], lists[j])
			}
		}
		got, want := Scatter(c, lists...), math.Sqrt(max(0, variance))
		if math.Abs(got.StdUnc-want) > 1e-7*(1+want) || got.DoF != float64(n-1) || got.Value != 0 {
			t.Fatalf("sets %+v, covariances %g", got, want)
		}
	})
}

// TestScatterThatCancels: readings that drift together leave nothing where the
// result depends on their difference.
func TestScatterThatCancels(t *testing.T) {
	drift := []float64{12.75, 12.5, 13}
	if e := Scatter([]float64{2, -2}, drift, drift); e.StdUnc != 0 {
		t.Errorf("u = %g, want 0", e.StdUnc)
	}
}

// TestDegreesOfFreedomStayBetween: ν is at least the smallest of the parts and
// at most their sum, whatever the sizes (JCGM 100 G.4.1, note).
func TestDegreesOfFreedomStayBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		parts := make([]Component, n)
		least, sum := math.Inf(1), 0.0
		for i := range parts {
			parts[i] = Component{1, rapid.Float64Range(0.01, 10).Draw(t, "u"), float64(rapid.IntRange(1, 50).Draw(t, "ν"))}
			least = min(least, parts[i].DoF)
			sum += parts[i].DoF
		}
		c := Combine(parts)
		if c.DoF < least*(1-1e-12) || c.DoF > sum*(1+1e-12) {
			t.Fatalf("ν = %g outside %g to %g", c.DoF, least, sum)
		}
	})
}
