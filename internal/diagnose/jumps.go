package diagnose

import (
	"math"
	"slices"

	"packwright/internal/measure"
	"packwright/internal/trend"
)

// Bounds of the rules for contacts.
const (
	// leastJump: no smaller jump is called one, as a share of the level (own rule):
	// reading half a second early or late already makes 1 to 4 % (calculated from the
	// drive log that package cells names).
	leastJump = 0.08
	leastSd   = 0.02 // share; hands and clocks scatter so much
	// chartLimit is the limit of moving ranges as a multiple of the standard
	// deviation: D4·d2 = 3.267·1.128 (NIST/SEMATECH e-Handbook 6.3.2.2).
	chartLimit = 3.267 * 1.128
	// withinSds: three readings of standard deviation σ show 2.5 times that with a
	// probability of exp(−6.25), one in 500 (chi-squared with two degrees of freedom).
	withinSds   = 2.5
	sisterSds   = 1.2 // a pack's own scatter counts up to that multiple of its sisters'
	stepSds     = 4.0 // standard errors of the difference of two medians
	near        = 3   // test days for a level
	mostRecent  = 12  // test days in which readings that come and go are counted
	fewestTimes = 2   // test days that show it
)

// usualScatter is the median over the packs of their scatter from test day to test
// day, as a share of their level.
func (f *Fleet) usualScatter() float64 {
	var list []float64
	for _, h := range f.ordered {
		for i := range h.series {
			for _, points := range h.segments(&h.series[i]) {
				if len(points) >= 4 {
					list = append(list, ownScatter(points))
				}
			}
		}
	}
	if len(list) == 0 {
		return leastSd
	}
	return max(leastSd, median(list))
}

// ownShare of a test's own uncertainty is what its last digits may scatter from day to
// day: a meter's stated digits hold its zero as well, which stays (own rule).
const ownShare = 0.5

// ownScatter is by the median moving range, as a share of the level.
func ownScatter(points []point) float64 {
	ranges, own := make([]float64, len(points)-1), make([]float64, len(points))
	for i := range points {
		own[i] = points[i].own
		if i > 0 {
			ranges[i-1] = math.Abs(points[i].ohm - points[i-1].ohm)
		}
	}
	return max(median(ranges)*perRange, ownShare*median(own)) / median(ohms(points))
}

// usedSd is the scatter from test day to test day that a pack is granted, as a share
// of its level: its own, but not much more than its sisters'.
func usedSd(points []point, sigma float64) float64 {
	if len(points) < 4 {
		return sigma
	}
	return max(leastSd, min(ownScatter(points), sisterSds*sigma))
}

// jumpLimit is the change, in ohm, from one test day to the next that is a jump.
func jumpLimit(points []point, sigma float64) float64 {
	return max(leastJump, chartLimit*usedSd(points, sigma)) * median(ohms(points))
}

// stepUp is the first point after a jump up that stayed, 0 where there is none, and
// its size in ohm: two levels that are apart by stepSds standard errors and by
// leastJump, and that fit better than a line, so that wear over a summer is none (own
// rule).
func stepUp(points []point, sigma float64) (at int, jump float64) {
	skipped := max(0, len(points)-mostPoints)
	points = points[skipped:]
	at, jump, off := twoLevels(points)
	if at == 0 {
		return 0, 0
	}
	level := median(ohms(points))
	se := medianPenalty * usedSd(points, sigma) * level * math.Sqrt(1/float64(at)+1/float64(len(points)-at))
	if jump <= max(leastJump*level, stepSds*se) || !betterThanLine(off, points) {
		return 0, 0
	}
	return skipped + at, jump
}

// twoLevels finds the place at which two levels, each the median of its side, fit
// best by the sum of distances: the first point of the second, 0 with fewer than two on
// either side, how much higher that is in ohm, and how far each point lies off.
func twoLevels(points []point) (at int, jump float64, off []float64) {
	y := ohms(points)
	left := runningMedians(y)
	slices.Reverse(y)
	right := runningMedians(y)
	slices.Reverse(y)
	n, best := len(y), math.Inf(1)
	levels := func(i, k int) float64 {
		if i < k {
			return left[k-1]
		}
		return right[n-1-k]
	}
	for k := 2; k <= n-2; k++ {
		sum := 0.0
		for i, v := range y {
			sum += math.Abs(v - levels(i, k))
		}
		if sum < best {
			best, at = sum, k
		}
	}
	if at == 0 {
		return 0, 0, nil
	}
	for i := range y {
		y[i] -= levels(i, at)
	}
	return at, right[n-1-at] - left[at-1], y
}

// betterThanLine: two levels have a number more than a line has, the place, which
// a tenth less distance makes up for in a dozen points (after comparing likelihoods
// with double-exponential errors).
func betterThanLine(off []float64, points []point) bool {
	line := aboveLine(points)
	return line != nil && distance(off) < 0.9*distance(line)
}

func distance(off []float64) float64 {
	sum := 0.0
	for _, v := range off {
		sum += math.Abs(v)
	}
	return sum
}

// aboveLine is how far each point lies above the line of Theil and Sen; nil where
// there is none.
func aboveLine(points []point) []float64 {
	x, y := make([]float64, len(points)), ohms(points)
	for i := range points {
		x[i] = float64(points[i].atMS-points[0].atMS) / dayMS
	}
	line, _, err := trend.Fit(x, y, nil)
	if err != nil {
		return nil
	}
	for i := range y {
		y[i] -= line.At(x[i]).Value
	}
	return y
}

// comesAndGoes tells whether test days scatter more than sisters do, about their
// line or, where that fits better, about two levels: by chi-squared at one in a
// thousand, and not by one wild day, which is left out. It gives the days that are
// high.
func comesAndGoes(points []point, sigma float64) (times []point, ok bool) {
	n := len(points)
	off := aboveLine(points)
	if n < 5 || off == nil {
		return nil, false
	}
	if at, _, two := twoLevels(points); at > 0 && betterThanLine(two, points) {
		off = two
	}
	level := median(ohms(points))
	low := lowThird(slices.Clone(off))
	sum, most := 0.0, 0.0
	for i, v := range off {
		square := measure.Square(v / (sisterSds * sigma * level))
		sum += square
		most = max(most, square)
		if v-low > leastJump*level {
			times = append(times, points[i])
		}
	}
	return times, len(times) >= fewestTimes && sum-most > chiSquared999(float64(n-2))
}

// chiSquared999 is the 99.9 % quantile (Wilson and Hilferty 1931).
func chiSquared999(dof float64) float64 {
	const z = 3.0902
	v := 2 / (9 * dof)
	c := 1 - v + z*math.Sqrt(v)
	return dof * c * c * c
}
