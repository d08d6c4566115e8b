package logged

import (
	"math"

	"packwright/internal/measure"
)

// moments are the sums of a least-squares line, kept about their means so that
// a million rows lose no digits.
type moments struct{ n, x, y, xx, xy, yy float64 }

func (m *moments) add(x, y float64) {
	m.n++
	dx, dy := x-m.x, y-m.y
	m.x += dx / m.n
	m.y += dy / m.n
	m.xx += dx * (x - m.x)
	m.xy += dx * (y - m.y)
	m.yy += dy * (y - m.y)
}

// merge adds other rows.
func (m *moments) merge(o moments) {
	if o.n == 0 {
		return
	}
	n := m.n + o.n
	dx, dy := o.x-m.x, o.y-m.y
	w := m.n * o.n / n
	m.xx += o.xx + dx*dx*w
	m.xy += o.xy + dx*dy*w
	m.yy += o.yy + dy*dy*w
	m.x += dx * o.n / n
	m.y += dy * o.n / n
	m.n = n
}

// mostStretches is how many stretches of the run are kept apart, at least half
// of it in a long run.
const mostStretches = 64

// stretches are the moments of equal stretches of rows, in order.
type stretches struct {
	rows float64 // in each but the last
	list []moments
}

func (s *stretches) add(x, y float64) {
	n := len(s.list)
	if n == 0 || s.list[n-1].n >= s.rows {
		if n == mostStretches {
			for i := 0; i < n/2; i++ {
				s.list[i] = s.list[2*i]
				s.list[i].merge(s.list[2*i+1])
			}
			s.list, s.rows = s.list[:n/2], s.rows*2
		}
		s.rows = max(s.rows, 4)
		s.list = append(s.list, moments{})
	}
	s.list[len(s.list)-1].add(x, y)
}

// leastSquares is the slope of y on x over all rows, with its standard
// uncertainty by leaving out one stretch after the other (delete-a-group
// jackknife). The usual formula takes rows as independent; ten rows a second
// of one pack are not, and it would be many times too small.
func (s *stretches) leastSquares() (measure.Estimate, bool) {
	slope := func(leaveOut int) (float64, bool) {
		var m moments
		for i := range s.list {
			if i != leaveOut {
				m.merge(s.list[i])
			}
		}
		return m.xy / m.xx, m.xx > 0
	}
	whole, ok := slope(-1)
	if !ok || len(s.list) < fewestStretches {
		return measure.Estimate{}, false
	}
	var without []float64
	for i := range s.list {
		b, ok := slope(i)
		if !ok {
			return measure.Estimate{}, false // one stretch holds all changes
		}
		without = append(without, b)
	}
	return jackknife(whole, without), true
}

const fewestStretches = 8

// jackknife is the estimate with its standard uncertainty from the estimates
// without each of g groups: u² = (g−1)/g · Σ (θᵢ − θ̄)², g−1 degrees of freedom
// (Quenouille and Tukey; the formula from memory).
func jackknife(whole float64, without []float64) measure.Estimate {
	g := float64(len(without))
	mean := 0.0
	for _, w := range without {
		mean += w / g
	}
	sum := 0.0
	for _, w := range without {
		sum += measure.Square(w - mean)
	}
	return measure.Estimate{Value: whole, StdUnc: math.Sqrt((g - 1) / g * sum), DoF: g - 1}
}

// mostSampled bounds the sample for the robust slope; between half of it and
// all of it is used in a long run.
const mostSampled = 1024

// point is a sampled row.
type point struct{ t, v, a float64 }

// sample keeps a fair share of all rows, in order: those whose number, well
// stirred, has so many zero bits at its end. Even steps could beat with a
// motor's rhythm. The same file always gives the same sample.
type sample struct {
	rows uint64
	mask uint64
	kept []point
	nums []uint64
}

func (s *sample) add(p point) {
	h := stir(s.rows)
	s.rows++
	if h&s.mask != 0 {
		return
	}
	s.kept, s.nums = append(s.kept, p), append(s.nums, h)
	for len(s.kept) > mostSampled {
		s.mask = s.mask<<1 | 1
		n := 0
		for i, h := range s.nums {
			if h&s.mask == 0 {
				s.kept[n], s.nums[n] = s.kept[i], h
				n++
			}
		}
		s.kept, s.nums = s.kept[:n], s.nums[:n]
	}
}

// stir is a mixing function whose every output bit depends on every input bit
// (the finalizer of splitmix64, from memory).
func stir(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// groups is how many stretches of time the robust slope leaves out in turn.
const groups = 20

// pair is the slope between two points.
type pair struct {
	slope  float64
	weight float64 // |ΔI|
	g, h   uint8   // stretch of each point
}

// robust is the median of the slopes between pairs of points, each weighted by
// its difference of current: Theil and Sen's slope with the weights of Jaeckel
// and Sievers (from memory), without which the many pairs at nearly the same
// current would be noise only. Pairs are at most a twentieth to a tenth of the
// run apart, so that the slow fall of the voltage as the pack empties stays
// out; where too few stretches have changes of current, all pairs are
// used, and wholeRun says so. The uncertainty is that of the jackknife over
// stretches of time, because neighbouring rows are not independent.
func (s *sample) robust(smallest float64) (e measure.Estimate, wholeRun, ok bool) {
	n := len(s.kept)
	if n < groups {
		return e, false, false
	}
	first, span := s.kept[0].t, s.kept[n-1].t-s.kept[0].t
	if span <= 0 {
		return e, false, false
	}
	group := func(p point) uint8 { return uint8(min(groups-1, int(groups*(p.t-first)/span))) }
	pairs := slopes(s.kept, group, 1, smallest)
	if !spreadOut(pairs) {
		wholeRun = true
		pairs = slopes(s.kept, group, groups, smallest)
	}
	if len(pairs) < groups {
		return e, wholeRun, false
	}
	without := make([]float64, 0, groups)
	some := make([]pair, 0, len(pairs))
	for g := range uint8(groups) {
		some = some[:0]
		for _, p := range pairs {
			if p.g != g && p.h != g {
				some = append(some, p)
			}
		}
		if len(some) > 0 {
			without = append(without, weightedMedian(some))
		}
	}
	whole := weightedMedian(pairs)
	if len(without) < fewestStretches {
		return e, wholeRun, false
	}
	return jackknife(whole, without), wholeRun, true
}

// slopes are those of all pairs at most so many stretches apart whose current
// differs by at least smallest.
func slopes(points []point, group func(point) uint8, apart int, smallest float64) []pair {
	var out []pair
	for i, p := range points {
		g := group(p)
		for j := i - 1; j >= 0; j-- {
			q := points[j]
			h := group(q)
			if int(g-h) > apart {
				break
			}
			if d := p.a - q.a; math.Abs(d) >= smallest && d != 0 {
				out = append(out, pair{(p.v - q.v) / d, math.Abs(d), g, h})
			}
		}
	}
	return out
}

// spreadOut tells whether enough stretches have a fair share of the weight.
func spreadOut(pairs []pair) bool {
	var weight [groups]float64
	total := 0.0
	for _, p := range pairs {
		weight[p.g] += p.weight
		total += p.weight
	}
	n := 0
	for _, w := range weight {
		if w > total/(5*groups) {
			n++
		}
	}
	return n >= fewestStretches
}

// weightedMedian is the least slope that has half of the weight at or below it.
// It puts pairs in another order: like quickselect, each round looks only into
// the part that holds the answer.
func weightedMedian(pairs []pair) float64 {
	need := 0.0
	for _, p := range pairs {
		need += p.weight / 2
	}
	for {
		pivot := pairs[stir(uint64(len(pairs)))%uint64(len(pairs))].slope
		below, above := 0, len(pairs) // [0, below) < pivot, [above, len) > pivot
		under, at := 0.0, 0.0
		for i := 0; i < above; {
			switch p := pairs[i]; {
			case p.slope < pivot:
				under += p.weight
				pairs[i], pairs[below] = pairs[below], p
				below++
				i++
			case p.slope > pivot:
				above--
				pairs[i], pairs[above] = pairs[above], p
			default:
				at += p.weight
				i++
			}
		}
		switch {
		case under >= need && below > 0:
			pairs = pairs[:below]
		case under+at >= need || above == len(pairs): // the second by rounding only
			return pivot
		default:
			need -= under + at
			pairs = pairs[above:]
		}
	}
}
