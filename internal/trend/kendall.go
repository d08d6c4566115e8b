package trend

import (
	"cmp"
	"math"
	"slices"
)

// ExactTo is the greatest number of points whose S, without ties and weights,
// is judged by its exact distribution, as far as the published tables reach
// (Gilbert 1987, table A18).
const ExactTo = 10

// Kendall is the test of Mann (1945) and Kendall for a steady rise or fall.
type Kendall struct {
	S        int64   `json:"s"`        // pairs that rise less pairs that fall, each as often as its weights say
	Variance float64 `json:"variance"` // of S where there is no trend
	Z        float64 `json:"z"`        // (S ∓ 1)/√Variance, with the correction for continuity
	P        float64 `json:"p"`        // two-sided probability of so large an S by chance
	Tau      float64 `json:"tau"`      // Kendall's τ_b, −1 to 1
	Exact    bool    `json:"exact"`    // P is exact, and not from Z
}

// kendall computes the test for points ordered by x.
//
// S = Σ over pairs with xᵢ < xⱼ of wᵢ·wⱼ·sgn(yⱼ − yᵢ); pairs at the same x count
// nothing. Its variance is that of a general correlation coefficient Γ = Σ aᵢⱼbᵢⱼ
// over all orders of y being equally likely (Daniels 1944; Kendall, Rank
// Correlation Methods), with aᵢⱼ = wᵢwⱼ·sgn(xⱼ−xᵢ), bᵢⱼ = sgn(yⱼ−yᵢ):
//
//	var Γ = 4·(Σaᵢ² − Σaᵢⱼ²)(Σbᵢ² − Σbᵢⱼ²)/(n(n−1)(n−2)) + 2·Σaᵢⱼ²·Σbᵢⱼ²/(n(n−1))
//
// where aᵢ = Σⱼaᵢⱼ, and S = Γ/2. Without weights it is the usual formula with
// ties in y, in x, or in both (Gilbert 1987, 16.4 and 16.5), and without ties
// n(n−1)(2n+5)/18. For n up to ExactTo without ties and weights P is exact.
func (p *points) kendall() Kendall {
	n := len(p.x)
	s := p.concordance()
	aRow2, aCell2 := p.marginsOfX()
	bRow2, bCell2 := p.marginsOfY()
	var gamma float64
	if n > 2 {
		gamma = 4 * (aRow2 - aCell2) * (bRow2 - bCell2) / (float64(n) * float64(n-1) * float64(n-2))
	}
	if n > 1 {
		gamma += 2 * aCell2 * bCell2 / (float64(n) * float64(n-1))
	}
	k := Kendall{S: s, Variance: gamma / 4, P: 1}
	if aCell2 > 0 && bCell2 > 0 {
		k.Tau = 2 * float64(s) / math.Sqrt(aCell2*bCell2)
	}
	all := float64(n) * float64(n-1)
	if n <= ExactTo && aCell2 == all && bCell2 == all {
		k.Exact = true
		k.P = exactP(n, s)
	}
	if k.Variance > 0 && s != 0 {
		k.Z = (math.Abs(float64(s)) - 1) / math.Sqrt(k.Variance)
		if !k.Exact {
			k.P = math.Erfc(k.Z / math.Sqrt2)
		}
		k.Z = math.Copysign(k.Z, float64(s))
	}
	return k
}

// concordance is S.
func (p *points) concordance() int64 {
	rise, fall := p.count(p.y)
	return rise - fall
}

// count adds the weights of the pairs whose later point has the greater and of
// those whose later point has the smaller of the given values. The weights of
// earlier points are summed in a tree over the ranks of the values (Fenwick
// 1994), so that it takes n·log n steps.
func (p *points) count(values []float64) (rise, fall int64) {
	ordered := slices.Clone(values)
	slices.Sort(ordered)
	ordered = slices.Compact(ordered)
	rank := make([]int, len(values))
	for i, v := range values {
		below, _ := slices.BinarySearch(ordered, v)
		rank[i] = below + 1
	}
	tree := make([]int64, len(ordered)+1)
	upTo := func(rank int) (sum int64) {
		for ; rank > 0; rank &= rank - 1 {
			sum += tree[rank]
		}
		return sum
	}
	var all int64
	for from := 0; from < len(values); from = p.next[from] {
		here := rank[from:p.next[from]]
		for j, r := range here {
			rise += p.w[from+j] * upTo(r-1)
			fall += p.w[from+j] * (all - upTo(r))
		}
		for j, r := range here {
			w := p.w[from+j]
			all += w
			for ; r < len(tree); r += r & -r {
				tree[r] += w
			}
		}
	}
	return rise, fall
}

// marginsOfX gives Σaᵢ² and Σaᵢⱼ², over ordered pairs.
func (p *points) marginsOfX() (row2, cell2 float64) {
	var all, all2, before float64
	for _, w := range p.w {
		all += float64(w)
		all2 += float64(w * w)
	}
	cell2 = all2 * all2
	for i := 0; i < len(p.x); i = p.next[i] {
		var here, here2 float64
		for _, w := range p.w[i:p.next[i]] {
			here += float64(w)
			here2 += float64(w * w)
		}
		a := all - here - 2*before // later less earlier
		row2 += here2 * a * a
		cell2 -= here2 * here2
		before += here
	}
	return row2, cell2
}

// marginsOfY gives Σbᵢ² and Σbᵢⱼ².
func (p *points) marginsOfY() (row2, cell2 float64) {
	y := slices.Clone(p.y)
	slices.Sort(y)
	n := float64(len(y))
	cell2 = n * n
	for i := 0; i < len(y); {
		j := i
		for j < len(y) && cmp.Compare(y[j], y[i]) == 0 {
			j++
		}
		ties := float64(j - i)
		b := n - float64(j) - float64(i) // above less below
		row2 += ties * b * b
		cell2 -= ties * ties
		i = j
	}
	return row2, cell2
}

// exactP is the two-sided probability that |S| is at least |s| for n points in
// random order: orders are counted by their inversions (n! has no more than
// seven digits here, so the counts are exact).
func exactP(n int, s int64) float64 {
	pairs := n * (n - 1) / 2
	count := make([]float64, pairs+1) // by number of inversions
	count[0] = 1
	orders := 1.0
	for m := 2; m <= n; m++ { // the m-th point makes 0 to m−1 inversions
		orders *= float64(m)
		for k := pairs; k >= 0; k-- {
			sum := 0.0
			for d := 0; d < m && d <= k; d++ {
				sum += count[k-d]
			}
			count[k] = sum
		}
	}
	if s < 0 {
		s = -s
	}
	tail := 0.0
	for k := 0; pairs-2*k >= int(s); k++ { // S = pairs − 2·inversions
		tail += count[k]
	}
	return min(1, 2*tail/orders)
}
