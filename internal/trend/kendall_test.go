package trend

import (
	"math"
	"slices"
	"testing"
)

// within compares within an absolute tolerance.
func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

func kendallOf(x, y []float64, w []int) Kendall { return slopesOf(x, y, w).kendall() }

func upTo(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i + 1)
	}
	return x
}

// River flow 1965 to 2009: data and results as printed in the vignette of the R
// package trend (published source), data rounded to two decimals.
var flow = []float64{
	1649.35, 1585.27, 1370.11, 1520.90, 1255.73, 1808.34, 864.11, 959.31, 1141.55, 1216.23, 1344.42, 861.91, 1402.92, 1415.84, 1349.80,
	1419.10, 1523.75, 1535.47, 1365.45, 1228.25, 1114.01, 1339.92, 1537.33, 1448.26, 1000.79, 1095.21, 1055.32, 1208.97, 1174.01, 1356.64,
	1565.47, 1112.54, 1163.92, 1143.30, 1723.83, 1400.87, 1632.99, 1495.70, 915.75, 1062.42, 1048.98, 1263.65, 1286.67, 1205.05, 1112.39,
}

func TestKendallOnFlow(t *testing.T) {
	k := kendallOf(upTo(45), flow, nil)
	within(t, "S", float64(k.S), -144, 0)
	within(t, "var S", k.Variance, 10450, 1e-9)
	within(t, "z", k.Z, -1.3989, 5e-5)
	within(t, "p", k.P, 0.1619, 5e-5)
	within(t, "τ", k.Tau, -0.1454545, 5e-8)
}

// Hollander and Wolfe (1973), page 187, by way of the help of R's cor.test
// (published source): the exact probability.
func TestKendallExact(t *testing.T) {
	k := kendallOf([]float64{44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1}, []float64{2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8}, nil)
	within(t, "S", float64(k.S), 16, 0)
	within(t, "τ", k.Tau, 0.4444444, 5e-8)
	within(t, "p", k.P, 0.1194, 5e-5)
	if !k.Exact {
		t.Error("nine points without ties are not judged exactly")
	}
}

// The tables of exact probabilities, one-sided, to four digits. Those of n 9,
// S 16 are published (Hollander and Wolfe); the rest are our own count, made
// apart from this program.
func TestExactTable(t *testing.T) {
	for n, table := range map[int]map[int64]float64{
		4:  {4: .1667, 6: .0417},
		5:  {6: .1167, 8: .0417, 10: .0083},
		6:  {9: .0681, 11: .0278, 13: .0083, 15: .0014},
		7:  {11: .0681, 13: .0345, 15: .0151, 17: .0054, 19: .0014},
		8:  {14: .0543, 16: .0305, 18: .0156, 20: .0071},
		9:  {16: .0597, 18: .0376, 20: .0223, 22: .0124},
		10: {19: .0542, 21: .0363, 23: .0233, 25: .0143, 27: .0083},
	} {
		for s, p := range table {
			within(t, "exact p", exactP(n, s)/2, p, 5.001e-5)
			within(t, "the same, falling", exactP(n, -s), exactP(n, s), 0)
		}
		within(t, "p of S = 0", exactP(n, 0), 1, 0)
	}
}

// The documentation of scipy.stats.kendalltau, five points with ties in both
// (published source). It has no correction for continuity.
func TestKendallTiesInBoth(t *testing.T) {
	k := kendallOf([]float64{12, 2, 1, 12, 2}, []float64{1, 4, 7, 1, 0}, nil)
	within(t, "τ_b", k.Tau, -0.47140452079103173, 1e-15)
	within(t, "p", math.Erfc(math.Abs(float64(k.S))/math.Sqrt(k.Variance)/math.Sqrt2), 0.2827454599327748, 1e-14)
}

// Kendall's own example with ties (Rank Correlation Methods): the ranks are
// from memory, τ_b is in scipy's tests (published source).
func TestKendallTiedRanks(t *testing.T) {
	k := kendallOf([]float64{1, 2.5, 2.5, 4.5, 4.5, 6.5, 6.5, 8, 9.5, 9.5}, []float64{1, 2, 4.5, 4.5, 4.5, 4.5, 8, 8, 8, 10}, nil)
	within(t, "S", float64(k.S), 33, 0)
	within(t, "τ_b", k.Tau, 0.85895569, 5e-9)
}

// With weights and ties in x and y the variance is that over all orders of y,
// here gone through one by one.
func TestVarianceOverAllOrders(t *testing.T) {
	for _, c := range []struct {
		x, y []float64
		w    []int
	}{
		{[]float64{1, 2, 3, 4, 5, 6}, []float64{3, 1, 4, 1, 5, 9}, nil},
		{[]float64{1, 2, 2, 4, 5, 5}, []float64{3, 1, 4, 1, 5, 1}, nil},
		{[]float64{1, 2, 3, 4, 5, 6}, []float64{1, 2, 3, 4, 5, 6}, []int{4, 1, 2, 1, 3, 1}},
		{[]float64{1, 1, 3, 4, 5, 5}, []float64{1, 2, 2, 4, 5, 5}, []int{4, 1, 2, 1, 3, 2}},
	} {
		var sum, squares, orders float64
		permute(slices.Clone(c.y), 0, func(y []float64) {
			s := float64(slopesOf(c.x, y, c.w).concordance())
			sum, squares, orders = sum+s, squares+s*s, orders+1
		})
		within(t, "orders", orders, 720, 0)
		within(t, "mean S", sum, 0, 0)
		within(t, "var S", kendallOf(c.x, c.y, c.w).Variance, squares/orders, 1e-9)
	}
}

func permute(y []float64, from int, visit func([]float64)) {
	if from == len(y) {
		visit(y)
		return
	}
	for i := from; i < len(y); i++ {
		y[from], y[i] = y[i], y[from]
		permute(y, from+1, visit)
		y[from], y[i] = y[i], y[from]
	}
}
