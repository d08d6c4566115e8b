package trend

import (
	"cmp"
	"math"
	"slices"
)

const (
	fewPoints  = 500             // of so many all slopes are kept, a megabyte
	fewSlopes  = 4096            // that many between two bounds are listed
	sameSlopes = 1e-10           // see rankedByCounting
	signBit    = uint64(1) << 63 // of a float
)

// ranked finds the slopes at the given ranks (1 is the smallest) of the list in
// which each slope stands as often as its pair's weight. Of fewPoints all slopes
// are kept, and it is exact; of more none, see rankedByCounting.
func (p *points) ranked(ranks []int64) []float64 {
	switch {
	case len(p.x) > fewPoints:
		return p.rankedByCounting(ranks)
	case slices.ContainsFunc(p.w, func(w int64) bool { return w != 1 }):
		return p.rankedByWeight(ranks)
	}
	keys := make([]uint64, 0, p.pairs)
	for i := range p.x {
		keys = p.row(i, keys)
	}
	order := make([]int, len(ranks))
	for i, r := range ranks {
		order[i] = int(r - 1)
	}
	slices.Sort(order)
	settle(keys, order)
	result := make([]float64, len(ranks))
	for i, r := range ranks {
		result[i] = slopeOf(keys[r-1])
	}
	return result
}

// rankedByWeight keeps all slopes with their weights.
func (p *points) rankedByWeight(ranks []int64) []float64 {
	var all []slopeAndWeight
	var keys []uint64
	for i := range p.x {
		keys = p.row(i, keys[:0])
		later := p.w[p.next[i]:]
		for j, key := range keys {
			all = append(all, slopeAndWeight{slopeOf(key), p.w[i] * later[j]})
		}
	}
	sortSlopes(all)
	result := make([]float64, len(ranks))
	for i, r := range ranks {
		result[i] = atRank(all, r)
	}
	return result
}

// slopeAndWeight is a slope that is kept.
type slopeAndWeight struct {
	slope  float64
	weight int64
}

func sortSlopes(list []slopeAndWeight) {
	slices.SortFunc(list, func(a, b slopeAndWeight) int { return cmp.Compare(a.slope, b.slope) })
}

// atRank is the slope at a rank of an ordered list, the last one beyond its end.
func atRank(list []slopeAndWeight, rank int64) float64 {
	for _, s := range list {
		if rank -= s.weight; rank <= 0 {
			return s.slope
		}
	}
	return list[len(list)-1].slope
}

// settle brings to each index of the ordered list the key that stands there when
// all are in order (Hoare's selection).
func settle(keys []uint64, indexes []int) {
	for len(indexes) > 0 && len(keys) > 1 {
		if len(keys) <= 12 {
			slices.Sort(keys)
			return
		}
		pivot := middle(keys[0], keys[len(keys)/2], keys[len(keys)-1])
		i, j := 0, len(keys)-1
		for i <= j {
			for keys[i] < pivot {
				i++
			}
			for keys[j] > pivot {
				j--
			}
			if i <= j {
				keys[i], keys[j] = keys[j], keys[i]
				i++
				j--
			}
		} // [:j+1] ≤ pivot, between them = pivot, [i:] ≥ pivot
		left, _ := slices.BinarySearch(indexes, j+1)
		right, _ := slices.BinarySearch(indexes, i)
		settle(keys[:j+1], indexes[:left])
		keys = keys[i:]
		indexes = slices.Clone(indexes[right:])
		for k := range indexes {
			indexes[k] -= i
		}
	}
}

func middle(a, b, c uint64) uint64 {
	return max(min(a, b), min(max(a, b), c))
}

// rankedByCounting keeps no slopes. Ten thousand tests have 5·10⁷ of them; but the
// slopes above b are the pairs whose order in x is that of their heights y − b·x,
// which are counted in n·log n steps (Cole, Salowe, Steiger and Szemerédi 1989). So
// the ranks are closed in by halving, until a few thousand slopes are left between
// two bounds, which are then listed. What comes out is a pair's slope; two that
// differ by less than sameSlopes of the spread of y over that of x may be taken for
// one another, and so may the slopes of points that lie a billionth of the spread
// of x apart.
func (p *points) rankedByCounting(ranks []int64) []float64 {
	n := len(p.x)
	all := make([]int, len(ranks))
	for i := range all {
		all[i] = i
	}
	lowest, highest := slices.Min(p.y), slices.Max(p.y)
	c := counter{
		points: p, ranks: ranks, result: make([]float64, len(ranks)),
		x0: (p.x[0] + p.x[n-1]) / 2, y0: (lowest + highest) / 2,
		same: sameSlopes * (highest - lowest) / (p.x[n-1] - p.x[0]),
	}
	least, most := p.extremes()
	least -= c.same + 1e-9*math.Abs(least) // where heights tell them apart
	most += c.same + 1e-9*math.Abs(most)
	c.closeIn(bound{key: keyOf(least)}, bound{key: keyOf(most), atMost: p.pairs}, all)
	return c.result
}

// extremes are the least and the greatest slope. Both are among points that are
// neighbours in x: the slope of any other pair is a mean of those between.
func (p *points) extremes() (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for from := 0; from < len(p.x); {
		to := p.next[from]
		if to < len(p.x) { // y is in order at each x
			last := p.next[to] - 1
			least = min(least, (p.y[to]-p.y[to-1])/(p.x[to]-p.x[from]))
			most = max(most, (p.y[last]-p.y[from])/(p.x[to]-p.x[from]))
		}
		from = to
	}
	return least, most
}

type counter struct {
	*points
	x0, y0 float64 // middle of the points, so that heights are small
	same   float64 // slopes that differ by less are as good as equal
	ranks  []int64
	result []float64
}

// bound is a slope, by its key, with the weight of the slopes that are at most
// that.
type bound struct {
	key    uint64
	atMost int64
}

// heights are the points' heights above a line of that slope.
func (c *counter) heights(slope float64) []float64 {
	h := make([]float64, len(c.x))
	for i := range h {
		h[i] = c.y[i] - c.y0 - float64(slope*(c.x[i]-c.x0))
	}
	return h
}

// closeIn finds the wanted ranks, which lie above low and not above high.
func (c *counter) closeIn(low, high bound, wanted []int) {
	for len(wanted) > 0 {
		if high.atMost-low.atMost <= fewSlopes || high.key-low.key <= 1 || slopeOf(high.key)-slopeOf(low.key) <= c.same {
			c.list(low, high, wanted)
			return
		}
		mid := bound{key: low.key + (high.key-low.key)/2}
		rise, _ := c.count(c.heights(slopeOf(mid.key)))
		mid.atMost = c.pairs - rise
		var left, right []int
		for _, i := range wanted {
			if c.ranks[i] <= mid.atMost {
				left = append(left, i)
			} else {
				right = append(right, i)
			}
		}
		c.closeIn(low, mid, left)
		low, wanted = mid, right
	}
}

// list finds the wanted ranks among the slopes between two bounds. Their pairs
// are those that change places when the points, in the order of their heights
// above the lower slope, are brought into that above the higher one; sorting by
// insertion meets each of them once. Where more than fewSlopes are as good as
// equal, it stops at so many.
func (c *counter) list(low, high bound, wanted []int) {
	before, after := c.heights(slopeOf(low.key)), c.heights(slopeOf(high.key))
	order := make([]int, len(c.x))
	for i := range order {
		order[i] = i
	}
	by := func(h []float64) func(i, j int) int {
		return func(i, j int) int { return cmp.Or(cmp.Compare(h[i], h[j]), j-i) } // of equals the later first: its slope is at most that
	}
	slices.SortFunc(order, by(before))
	compare := by(after)
	var found []slopeAndWeight
	for n := 1; n < len(order) && len(found) < fewSlopes; n++ {
		for k := n; k > 0 && compare(order[k], order[k-1]) < 0; k-- {
			i, j := order[k-1], order[k]
			order[k-1], order[k] = j, i
			if c.x[i] < c.x[j] {
				found = append(found, slopeAndWeight{(c.y[j]-c.y[i])/(c.x[j]-c.x[i]) + 0, c.w[i] * c.w[j]})
			}
		}
	}
	sortSlopes(found)
	for _, i := range wanted {
		if len(found) == 0 { // they are as good as equal
			c.result[i] = slopeOf(high.key)
		} else {
			c.result[i] = atRank(found, c.ranks[i]-low.atMost)
		}
	}
}

// row appends the slopes from point i to all at a greater x, as keys.
func (p *points) row(i int, keys []uint64) []uint64 {
	x, y := p.x[i], p.y[i]
	from := p.next[i]
	xs, ys := p.x[from:], p.y[from:]
	for j := range xs {
		keys = append(keys, keyOf((ys[j]-y)/(xs[j]-x)))
	}
	return keys
}

// keyOf maps floats to whole numbers in the same order; both zeros are one.
func keyOf(slope float64) uint64 {
	bits := math.Float64bits(slope + 0)
	if bits&signBit != 0 {
		return ^bits
	}
	return bits | signBit
}

// slopeOf is the inverse of keyOf.
func slopeOf(key uint64) float64 {
	if key&signBit != 0 {
		return math.Float64frombits(key &^ signBit)
	}
	return math.Float64frombits(^key)
}
