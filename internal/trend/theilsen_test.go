package trend

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/problem"
)

func mustFit(t testing.TB, x, y []float64, w []int) (Line, Kendall) {
	t.Helper()
	l, k, err := Fit(x, y, w)
	if err != nil {
		t.Fatal(err)
	}
	return l, k
}

// Sen (1968), the seven points of his example, with slope 4 and the 93 %
// interval 26/7 to 35/8, the 4th and 18th of 21 slopes, as quoted by the tests of
// scipy and of the R package deming (published sources).
func TestSen(t *testing.T) {
	x, y := []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}
	l, k := mustFit(t, x, y, nil)
	within(t, "slope", l.Slope, 4, 0)
	within(t, "slopes", float64(l.Pairs), 21, 0)
	ends := slopesOf(x, y, nil).ranked([]int64{4, 18})
	within(t, "lower", ends[0], 26.0/7, 1e-15)
	within(t, "upper", ends[1], 35.0/8, 1e-15)
	within(t, "height at t = 0, median of y − 4t", l.At(0).Value, 6, 1e-12)
	// Our own count: every pair rises.
	within(t, "S", float64(k.S), 21, 0)
	within(t, "var S", k.Variance, 44+1.0/3, 1e-9)
	within(t, "z", k.Z, 3.003757, 5e-7)
	within(t, "p", k.P, 2.0/5040, 1e-15)
	// C = 1.4758·√var S is the 93 % between ranks 4 and 18 of Kendall's table: S of 15 has 0.0151·2.
	_, low, high := slopesOf(x, y, nil).interval(15 - 2)
	within(t, "lower by rank", low, 26.0/7, 1e-15)
	within(t, "upper by rank", high, 35.0/8, 1e-15)
}

// Sodium in groundwater: example 17-7 of US EPA's Unified Guidance (2009), with
// the results that the R package EnvStats prints for it (published sources),
// interval by Gilbert's method. Its z and p are those of the normal deviate.
func TestGilbertInterval(t *testing.T) {
	x := []float64{89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3}
	y := []float64{56, 53, 51, 55, 52, 60, 62, 59, 61, 63}
	l, k := mustFit(t, x, y, nil)
	within(t, "slope", l.Slope, 1.3333333, 5e-8)
	within(t, "lower", l.SlopeLow, 0.3992083, 5e-8)
	within(t, "upper", l.SlopeHigh, 2.3333333, 5e-8)
	within(t, "τ", k.Tau, 0.5555556, 5e-8)
	within(t, "z", k.Z, 2.146625, 5e-7)
	within(t, "normal p", math.Erfc(k.Z/math.Sqrt2), 0.03182313, 5e-9)
	within(t, "exact p, our own count", k.P, 2*0.0143, 1e-4)
}

// Helsel and Hirsch, Statistical Methods in Water Resources, chapter 10 (data
// from memory; results our own): one wild point does not move the slope.
func TestWildPoint(t *testing.T) {
	l, k := mustFit(t, upTo(7), []float64{1, 2, 3, 4, 5, 16, 7}, nil)
	within(t, "slope", l.Slope, 1, 0)
	within(t, "height at 0", l.At(0).Value, 0, 1e-15)
	within(t, "S", float64(k.S), 19, 0)
}

// Every rank agrees with sorting all slopes, with ties in x and y, with weights and
// without.
func TestRankedAgreesWithSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, all := drawPoints(t, rapid.Float64Range(-1e3, 1e3))
		if len(all) == 0 {
			return
		}
		ranks := rapid.SliceOfN(rapid.Int64Range(1, p.pairs), 1, 6).Draw(t, "ranks")
		if least, most := p.extremes(); least != all[0] || most != all[len(all)-1] {
			t.Fatalf("extremes %g and %g, want %g and %g", least, most, all[0], all[len(all)-1])
		}
		for i, got := range p.ranked(ranks) {
			if want := all[ranks[i]-1]; got != want {
				t.Fatalf("rank %d of %d is %g, want %g", ranks[i], p.pairs, got, want)
			}
		}
	})
}

// The same by counting, for times that are told apart.
func TestCountingAgreesWithSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, all := drawPoints(t, rapid.Map(rapid.IntRange(0, 1e6), func(i int) float64 { return float64(i) / 1024 }))
		if len(all) == 0 {
			return
		}
		ranks := rapid.SliceOfN(rapid.Int64Range(1, p.pairs), 1, 6).Draw(t, "ranks")
		for i, got := range p.rankedByCounting(ranks) {
			if want := all[ranks[i]-1]; math.Abs(got-want) > 1e-9*math.Abs(want) {
				t.Fatalf("rank %d of %d is %g, want %g", ranks[i], p.pairs, got, want)
			}
		}
	})
}

// drawPoints draws up to 150 points and lists all their slopes in order.
func drawPoints(t *rapid.T, fine *rapid.Generator[float64]) (*points, []float64) {
	n := rapid.SampledFrom([]int{2, 3, 17, 150}).Draw(t, "n")
	number := rapid.OneOf(rapid.Map(rapid.IntRange(-5, 5), func(i int) float64 { return float64(i) }), fine)
	x, y := rapid.SliceOfN(number, n, n).Draw(t, "x"), rapid.SliceOfN(number, n, n).Draw(t, "y")
	most := rapid.SampledFrom([]int{1, 4}).Draw(t, "most")
	p := slopesOf(x, y, rapid.SliceOfN(rapid.IntRange(1, most), n, n).Draw(t, "w"))
	var all []float64
	for i := range p.x {
		for j := range p.x[:i] {
			if p.x[j] < p.x[i] {
				for range p.w[i] * p.w[j] {
					all = append(all, (p.y[i]-p.y[j])/(p.x[i]-p.x[j])+0)
				}
			}
		}
	}
	if int64(len(all)) != p.pairs {
		t.Fatalf("%d slopes, counted %d", len(all), p.pairs)
	}
	slices.Sort(all)
	return p, all
}

// Two thousand tests, where counting takes over: the same as keeping all slopes.
func TestCountingOfMany(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 4))
	x, y := upTo(2000), make([]float64, 2000)
	for i := range y {
		y[i] = math.Round(90+0.01*x[i]+2*r.NormFloat64()) / 1000 // read to a milliohm: many ties
	}
	p := slopesOf(x, y, nil)
	ranks := []int64{1, 1000, p.pairs / 3, p.pairs / 2, p.pairs/2 + 1, p.pairs - 7, p.pairs}
	want := p.rankedByWeight(ranks)
	for i, got := range p.ranked(ranks) {
		within(t, "slope", got, want[i], 1e-9*math.Abs(want[i]))
	}
}

// More equal slopes than are ever listed.
func TestRankedOfEqualSlopes(t *testing.T) {
	y := make([]float64, fewPoints+1)
	l, k := mustFit(t, upTo(len(y)), y, nil)
	if l.Slope != 0 || l.SlopeLow != 0 || l.SlopeHigh != 0 || k.P != 1 || k.S != 0 {
		t.Errorf("a flat line has slope %g (%g to %g), p %g", l.Slope, l.SlopeLow, l.SlopeHigh, k.P)
	}
}

// A point of weight w is w points at its place.
func TestWeightsAreRepeats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		y := rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "y")
		w := rapid.SliceOfN(rapid.IntRange(1, 4), n, n).Draw(t, "w")
		var xs, ys []float64
		for i := range n {
			for range w[i] {
				xs, ys = append(xs, float64(i)), append(ys, y[i])
			}
		}
		a, ak, err1 := Fit(upTo(n), y, w)
		b, bk, err2 := Fit(xs, ys, nil)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if a.Slope != b.Slope || a.Pairs != b.Pairs || ak.S != bk.S {
			t.Fatalf("weighted %g of %d (S %d), repeated %g of %d (S %d)", a.Slope, a.Pairs, ak.S, b.Slope, b.Pairs, bk.S)
		}
	})
}

// Order does not matter; scaling by powers of two and mirroring are exact;
// shifting leaves the slope.
func TestFitIsEquivariant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "n")
		grid := rapid.Map(rapid.IntRange(0, 4096), func(i int) float64 { return float64(i) / 256 }) // sums stay exact
		x, y := rapid.SliceOfN(grid, n, n).Draw(t, "x"), rapid.SliceOfN(grid, n, n).Draw(t, "y")
		a, ak, err := Fit(x, y, nil)
		if err != nil {
			if slices.Min(x) != slices.Max(x) {
				t.Fatal(err)
			}
			return
		}
		order := rapid.Permutation(upTo(n)).Draw(t, "order")
		fit := func(fx, fy func(float64) float64) (Line, Kendall) {
			xs, ys := make([]float64, n), make([]float64, n)
			for i, o := range order {
				xs[i], ys[i] = fx(x[int(o)-1]), fy(y[int(o)-1])
			}
			l, k, err := Fit(xs, ys, nil)
			if err != nil {
				t.Fatal(err)
			}
			return l, k
		}
		same := func(v float64) float64 { return v }
		if l, k := fit(same, same); l != a || k != ak {
			t.Fatalf("another order gives %+v, not %+v", l, a)
		}
		if l, _ := fit(func(v float64) float64 { return v * 4 }, func(v float64) float64 { return v * 2 }); l.Slope != a.Slope/2 || l.SlopeHigh != a.SlopeHigh/2 || l.CentreY != 2*a.CentreY {
			t.Fatalf("scaled: %+v, not half of %+v", l, a)
		}
		if l, k := fit(func(v float64) float64 { return v + 512 }, func(v float64) float64 { return v - 64 }); l.Slope != a.Slope || l.SlopeLow != a.SlopeLow || k != ak {
			t.Fatalf("shifted: %+v, not %+v", l, a)
		}
		if l, k := fit(same, func(v float64) float64 { return -v }); l.Slope != -a.Slope || k.S != -ak.S || math.Abs(l.SlopeLow+a.SlopeHigh) > 1e-9*(1+math.Abs(a.SlopeHigh)) {
			t.Fatalf("mirrored: %+v, not the mirror of %+v", l, a)
		}
	})
}

// A point at the time of another forms no slope with it.
func TestEqualTimes(t *testing.T) {
	x, y := []float64{1, 2, 3, 4}, []float64{1, 3, 2, 5}
	a, _ := mustFit(t, x, y, nil)
	b, _ := mustFit(t, append(x, 4), append(y, 9), nil)
	if a.Pairs != 6 || b.Pairs != 9 {
		t.Errorf("%d pairs, then %d; want 6, then 9", a.Pairs, b.Pairs)
	}
	if _, _, err := Fit([]float64{2, 2, 2}, y[:3], nil); err == nil {
		t.Error("a line through one time")
	}
}

func TestFitRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for what, c := range map[string]struct {
		x, y []float64
		w    []int
	}{
		"nothing":         {},
		"one point":       {[]float64{1}, []float64{1}, nil},
		"unequal lists":   {[]float64{1, 2}, []float64{1}, nil},
		"unequal weights": {[]float64{1, 2}, []float64{1, 2}, []int{1}},
		"NaN in x":        {[]float64{nan, 2}, []float64{1, 2}, nil},
		"NaN in y":        {[]float64{1, 2}, []float64{1, nan}, nil},
		"infinity":        {[]float64{1, 2}, []float64{1, inf}, nil},
		"far too large":   {[]float64{1, 2}, []float64{1, 1e300}, nil},
		"weight 0":        {[]float64{1, 2}, []float64{1, 2}, []int{0, 1}},
		"weight 101":      {[]float64{1, 2}, []float64{1, 2}, []int{101, 1}},
		"too close":       {[]float64{0, 5e-324}, []float64{0, 1}, nil},
		"too many":        {make([]float64, MaxTests+1), make([]float64, MaxTests+1), nil},
	} {
		_, _, err := Fit(c.x, c.y, c.w)
		if p, ok := problem.As(err); !ok || p.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
}
