package trend

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// normal95 is the two-sided 95 % quantile of the normal distribution.
const normal95 = 1.959963984540054

// Line is a straight line through points, fitted by the method of Theil and
// Sen. Slopes are in units of y per unit of x: ohm per day in an Analysis.
type Line struct {
	Slope       float64 `json:"slope"`      // median of the slopes of all pairs
	SlopeLow    float64 `json:"slope_low"`  // lower end of its 95 % interval
	SlopeHigh   float64 `json:"slope_high"` // upper end
	SlopeStdUnc float64 `json:"slope_std_unc"`
	CentreX     float64 `json:"centre_x"` // mean of x, where the height of the line is known best
	CentreY     float64 `json:"centre_y"` // the line there: median of y − Slope·(x − CentreX)
	CentreUnc   float64 `json:"centre_std_unc"`
	Points      int     `json:"points"`
	Pairs       int64   `json:"pairs"` // slopes, each as often as its weights say
}

// Fit fits a line to points in any order, weights nil or from 1 to 100: a point
// of weight w stands for w points at its place. Points at the same x form no
// pair. Errors are problems: unequal or too long lists, numbers that are not
// finite, all x equal.
//
// The interval is Sen's (1968) as in Gilbert (1987, 16.4.2): of the N slopes in
// order, those at ranks (N − C)/2 and (N + C)/2 + 1 with C = 1.96·√var S,
// interpolated between whole ranks. It holds for any scatter that is alike at
// all points; with weights var S is the weighted one.
//
// Standard uncertainties, for use in sums: of the slope, half the interval's
// width by 1.96; of the height at the centre, √(3/2)·u(slope)·s_x, because for
// normal scatter σ the variance of such a slope is (π/3)·σ²/(n·s_x²) and that of a
// median (π/2)·σ²/n.
func Fit(x, y []float64, weights []int) (Line, Kendall, error) {
	if len(x) != len(y) || weights != nil && len(weights) != len(x) {
		return Line{}, Kendall{}, problem.Invalidf("x", "give as many of each", "%d x, %d y and %d weights do not pair", len(x), len(y), len(weights))
	}
	if len(x) > MaxTests {
		return Line{}, Kendall{}, problem.New(problem.TooLarge, "leave some out", "%d points are more than %d", len(x), MaxTests)
	}
	for i := range x {
		if !(math.Abs(x[i]) <= mostValue && math.Abs(y[i]) <= mostValue) || weights != nil && (weights[i] < 1 || weights[i] > 100) {
			return Line{}, Kendall{}, problem.Invalidf("y", "leave that point out", "point %d cannot be used: a number is missing or far too large", i+1)
		}
	}
	p := slopesOf(x, y, weights)
	if p.pairs == 0 {
		return Line{}, Kendall{}, problem.Invalidf("x", "points at two different places are the least", "there is no slope through one place")
	}
	if least, most := p.extremes(); math.IsInf(least, 0) || math.IsInf(most, 0) {
		return Line{}, Kendall{}, problem.Invalidf("x", "leave one of the two out", "two points are so close together that their slope has no size")
	}
	k := p.kendall()
	l := Line{Points: len(x), Pairs: p.pairs}
	slope, low, high := p.interval(normal95 * math.Sqrt(k.Variance))
	l.Slope = slope
	l.between(low, high)
	var sum, total float64
	for i, w := range p.w {
		sum += float64(w) * p.x[i]
		total += float64(w)
	}
	l.CentreX = sum / total
	residuals, own := make([]float64, len(x)), make([]int, len(x))
	for i := range residuals {
		residuals[i], own[i] = p.y[i]-l.Slope*(p.x[i]-l.CentreX), int(p.w[i])
	}
	l.CentreY = weightedMedian(residuals, own)
	l.CentreUnc = math.Sqrt(1.5) * l.SlopeStdUnc * p.spread(l.CentreX)
	return l, k, nil
}

const mostValue = 1e15 // beyond it differences of times lose their meaning

// At is the line at x with its standard uncertainty, and n − 2 degrees of
// freedom: u² = u²(centre) + (x − CentreX)²·u²(slope), as the two are nearly
// independent at the centre.
func (l *Line) At(x float64) measure.Estimate {
	d := x - l.CentreX
	return measure.Estimate{
		Value:  l.CentreY + float64(l.Slope*d),
		StdUnc: math.Hypot(l.CentreUnc, d*l.SlopeStdUnc),
		DoF:    float64(max(1, l.Points-2)),
	}
}

// atLeast keeps the uncertainties from falling below what readings of standard
// uncertainty u allow by least squares: displays repeat the same digit, and then
// the points show no scatter at all.
func (l *Line) atLeast(u float64, x []float64, w []int) {
	p := slopesOf(x, x, w)
	n := math.Sqrt(float64(len(x)))
	l.CentreUnc = max(l.CentreUnc, u/n)
	least := normal95 * u / (p.spread(l.CentreX) * n)
	l.between(min(l.SlopeLow, l.Slope-least), max(l.SlopeHigh, l.Slope+least))
}

// widen adds one standard uncertainty to slope and centre.
func (l *Line) widen(slope, centre float64) {
	l.CentreUnc = math.Hypot(l.CentreUnc, centre)
	l.between(l.Slope-math.Hypot(l.Slope-l.SlopeLow, normal95*slope), l.Slope+math.Hypot(l.SlopeHigh-l.Slope, normal95*slope))
}

// between sets the slope's interval and the standard uncertainty that goes with
// it.
func (l *Line) between(low, high float64) {
	l.SlopeLow, l.SlopeHigh = low, high
	l.SlopeStdUnc = (high - low) / (2 * normal95)
}

// points are ordered by x.
type points struct {
	x, y  []float64
	w     []int64
	next  []int // index of the first point at a greater x
	pairs int64 // weighted number of pairs at different x
}

func slopesOf(x, y []float64, weights []int) *points {
	n := len(x)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(x[a], x[b]), cmp.Compare(y[a], y[b])) })
	p := &points{x: make([]float64, n), y: make([]float64, n), w: make([]int64, n), next: make([]int, n)}
	for i, o := range order {
		p.x[i], p.y[i], p.w[i] = x[o], y[o], 1
		if weights != nil {
			p.w[i] = int64(weights[o])
		}
	}
	var later, from int64
	for i := n - 1; i >= 0; i-- {
		if i == n-1 || p.x[i] < p.x[i+1] {
			p.next[i] = i + 1
			later += from
			from = 0
		} else {
			p.next[i] = p.next[i+1]
		}
		p.pairs += p.w[i] * later
		from += p.w[i]
	}
	return p
}

// spread is the standard deviation of x, by weight and divided by n.
func (p *points) spread(centre float64) float64 {
	var sum, total float64
	for i, w := range p.w {
		sum += float64(w) * measure.Square(p.x[i]-centre)
		total += float64(w)
	}
	return math.Sqrt(sum / total)
}

// slope is the median slope alone.
func (p *points) slope() float64 {
	m := p.ranked([]int64{(p.pairs + 1) / 2, p.pairs/2 + 1})
	return (m[0] + m[1]) / 2
}

// interval is the median slope and the two at ranks (N ∓ c)/2.
func (p *points) interval(c float64) (mid, low, high float64) {
	n := float64(p.pairs)
	at := func(rank float64) (int64, float64) { // of n slopes, and the share of the next
		rank = min(max(rank, 1), n)
		whole := math.Floor(rank)
		return int64(whole), rank - whole
	}
	l, lShare := at((n - c) / 2)
	h, hShare := at((n+c)/2 + 1)
	m := p.ranked([]int64{(p.pairs + 1) / 2, p.pairs/2 + 1, l, min(l+1, p.pairs), h, min(h+1, p.pairs)})
	between := func(a, b, share float64) float64 {
		if share == 0 {
			return a
		}
		return a + share*(b-a)
	}
	return (m[0] + m[1]) / 2, between(m[2], m[3], lShare), between(m[4], m[5], hShare)
}

// weightedMedian is the median of a list in which every value stands as often
// as its weight.
func weightedMedian(values []float64, weights []int) float64 {
	order := make([]int, len(values))
	total := 0
	for i := range order {
		order[i] = i
		total += weights[i]
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(values[a], values[b]) })
	at := func(rank int) float64 {
		for _, i := range order {
			if rank -= weights[i]; rank <= 0 {
				return values[i]
			}
		}
		return math.NaN()
	}
	return (at((total+1)/2) + at(total/2+1)) / 2
}
