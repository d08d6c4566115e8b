package stock

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// TestCountsByHand: three packs of 0.1, 0.2 and 0.3, every case written out.
func TestCountsByHand(t *testing.T) {
	want := []float64{0.9 * 0.8 * 0.7, 0.1*0.8*0.7 + 0.9*0.2*0.7 + 0.9*0.8*0.3, 0.1*0.2*0.7 + 0.1*0.8*0.3 + 0.9*0.2*0.3, 0.1 * 0.2 * 0.3}
	for k, got := range counts([]float64{0.1, 0.2, 0.3}) {
		if !near(got, want[k], 1e-15) {
			t.Errorf("%d packs: %g, want %g", k, got, want[k])
		}
	}
}

// TestCountsByEnumeration: up to twelve packs, all 2ⁿ cases added up.
func TestCountsByEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ps := rapid.SliceOfN(rapid.Float64Range(0, 1), 0, 12).Draw(t, "ps")
		want := make([]float64, len(ps)+1)
		for set := range 1 << len(ps) {
			p, n := 1.0, 0
			for i, pi := range ps {
				if set>>i&1 == 1 {
					p *= pi
					n++
				} else {
					p *= 1 - pi
				}
			}
			want[n] += p
		}
		d := counts(ps)
		for k := range want {
			if !near(d[k], want[k], 1e-13) {
				t.Fatalf("%d of %v: %g, want %g", k, ps, d[k], want[k])
			}
		}
	})
}

// TestCountsBinomial: with equal probabilities it is the binomial distribution,
// here by a general library, for up to 1000 packs. Of tables of it (from memory):
// 10 packs of 0.9 are 8 or more with 0.9298, of 0.5 at most 2 with 0.0547.
func TestCountsBinomial(t *testing.T) {
	for _, n := range []int{1, 7, 12, 100, 1000} {
		for _, p := range []float64{0, 0.03, 0.5, 0.9, 1} {
			ps := make([]float64, n)
			for i := range ps {
				ps[i] = p
			}
			library := distuv.Binomial{N: float64(n), P: p}
			for k, got := range counts(ps) {
				want := library.Prob(float64(k))
				if p == 0 || p == 1 { // where the library has 0·log 0
					want = 0
					if k == int(p)*n {
						want = 1
					}
				}
				if !near(got, want, 1e-12) {
					t.Fatalf("%d of %d at %g: %g, want %g", k, n, p, got, want)
				}
			}
		}
	}
	tens := func(p float64) []float64 { return counts([]float64{p, p, p, p, p, p, p, p, p, p}) }
	if got := atLeast(tens(0.9), 8); !near(got, 0.9298, 5e-5) {
		t.Errorf("8 of 10: %g", got)
	}
	if got := below(tens(0.5), 3); !near(got, 0.0547, 5e-5) {
		t.Errorf("at most 2 of 10: %g", got)
	}
}

// TestInterval: it holds 95 %, and neither end can come in.
func TestInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := counts(rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 0.025, 0.975, 1})), 0, 30).Draw(t, "ps"))
		low, high := interval(d)
		if below(d, low) > 0.025+1e-9 || atLeast(d, high+1) > 0.025+1e-9 || low > high {
			t.Fatalf("%d to %d leaves %g and %g", low, high, below(d, low), atLeast(d, high+1))
		}
		if low < high && (below(d, low+1) < 0.025-1e-9 || atLeast(d, high) < 0.025-1e-9) {
			t.Fatalf("%d to %d could be narrower", low, high)
		}
	})
	// 95 % of Binomial(20, 0.5) is 6 to 14 (tables, from memory).
	ps := make([]float64, 20)
	for i := range ps {
		ps[i] = 0.5
	}
	if low, high := interval(counts(ps)); low != 6 || high != 14 {
		t.Errorf("%d to %d of 20", low, high)
	}
}

// FuzzCounts: whatever the probabilities, the distribution adds up to 1, with
// the mean Σ p and the variance Σ p·(1 − p), and its two tails to 1 as well.
func FuzzCounts(f *testing.F) {
	f.Add([]byte{}, 0)
	f.Add([]byte{0, 255, 128}, 2)
	f.Add([]byte("a fleet of many packs"), -7)
	f.Fuzz(func(t *testing.T, bytes []byte, k int) {
		bytes = bytes[:min(len(bytes), 2000)]
		ps, mean, variance := make([]float64, len(bytes)), 0.0, 0.0
		for i, b := range bytes {
			ps[i] = float64(b) / 255
			mean += ps[i]
			variance += ps[i] * (1 - ps[i])
		}
		d := counts(ps)
		sum, m, v := 0.0, 0.0, 0.0
		for n, p := range d {
			if !(p >= 0) {
				t.Fatalf("P(%d) = %g", n, p)
			}
			sum += p
			m += float64(n) * p
			v += (float64(n) - mean) * (float64(n) - mean) * p
		}
		if !near(sum, 1, 1e-10) || !near(m, mean, 1e-9*max(1, mean)) || !near(v, variance, 1e-7*max(1, variance)) || len(d) != len(ps)+1 {
			t.Fatalf("sum %g, mean %g of %g, variance %g of %g", sum, m, mean, v, variance)
		}
		if got := below(d, k) + atLeast(d, k); !near(got, 1, 1e-10) {
			t.Fatalf("below and from %d: %g", k, got)
		}
	})
}
