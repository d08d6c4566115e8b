package trend

import (
	"math"
	"slices"

	"packwright/internal/measure"
)

// The constants of charts for single values and moving ranges of two.
const (
	rangeMean   = 1.128 // d2: mean range over σ (NIST/SEMATECH e-Handbook 6.3.2.2)
	rangeLimit  = 3.267 // D4: upper limit of ranges over their mean
	valueLimit  = 2.66  // 3/d2: distance of the limits of values, over the mean range
	rangeScreen = 3.865 // upper limit of ranges over their median, 3.686/0.9539; both from memory, recomputed in the test
	repeatPct   = 3.0   // one pack's repeatability, one standard deviation (see NoisePct)
)

// ChangeKind says what a sudden change looks like.
type ChangeKind string

// The kinds.
const (
	Outlier     ChangeKind = "outlier"     // one occasion is off, the next is back
	Step        ChangeKind = "step"        // it jumped and stayed
	Unconfirmed ChangeKind = "unconfirmed" // the latest occasion is off: test again
)

// Change is one sudden change. It is flagged; the test stays in the series.
type Change struct {
	Kind      ChangeKind `json:"kind"`
	Occasion  int        `json:"occasion"` // index in Series.Occasions
	AtMS      int64      `json:"at_ms"`
	ChangeOhm float64    `json:"change_ohm"` // from the occasion before, or from the line
	LimitOhm  float64    `json:"limit_ohm"`  // what its size had to exceed
}

// Chart is a control chart of the occasions about their line: single values and
// moving ranges (Shewhart; NIST/SEMATECH e-Handbook 6.3.2.2).
type Chart struct {
	SigmaOhm      float64  `json:"sigma_ohm"`       // scatter from one occasion to the next
	ValueLimitOhm float64  `json:"value_limit_ohm"` // values this far off the line are out
	RangeLimitOhm float64  `json:"range_limit_ohm"` // changes greater than this are sudden
	Screened      int      `json:"screened"`        // ranges too large to count for SigmaOhm
	Changes       []Change `json:"changes"`         // by time
}

// moving is the mean moving range, without those beyond rangeScreen medians (a
// single wild value makes two ranges that would hide it), and how many these
// are.
func moving(ranges []float64) (mean float64, screened int) {
	screen := rangeScreen * median(slices.Clone(ranges))
	n := 0.0
	for _, r := range ranges {
		if r > screen && screen > 0 {
			screened++
			continue
		}
		mean += r
		n++
	}
	return mean / n, screened
}

// chartOf looks for sudden changes. σ is the mean range by d2; it is at least the
// occasions' own uncertainty, and below four occasions, where ranges say nothing,
// the usual repeatability of 3 %. No change below NoisePct of the level is called
// sudden.
func chartOf(s *Series, l *Line) *Chart {
	n := len(s.Occasions)
	if n < 2 {
		return nil
	}
	y := s.values()
	ranges := make([]float64, n-1)
	for i := range ranges {
		ranges[i] = math.Abs(y[i+1] - y[i])
	}
	level := median(slices.Clone(y))
	c := &Chart{SigmaOhm: max(s.ownStdUnc(), repeatPct/100*level), Changes: []Change{}}
	if n >= 4 {
		mean, screened := moving(ranges)
		c.SigmaOhm, c.Screened = max(s.ownStdUnc(), mean/rangeMean), screened
	}
	least := NoisePct / 100 * level
	c.RangeLimitOhm = max(least, rangeLimit*rangeMean*c.SigmaOhm)
	c.ValueLimitOhm = max(least, valueLimit*rangeMean*c.SigmaOhm)
	c.neighbours(s, s.days(), y, l == nil)
	if l != nil && !c.has(Step) { // about no line, or a wrong one, values are not off
		c.values(s)
	}
	return c
}

func (c *Chart) flag(s *Series, kind ChangeKind, at int, change, limit float64) {
	c.Changes = append(c.Changes, Change{Kind: kind, Occasion: at, AtMS: s.Occasions[at].AtMS, ChangeOhm: change, LimitOhm: limit})
}

// neighbours names steps: a sudden change between two occasions of which still
// as much is there among the next ones. Without a line it also names a
// change that goes back, and one at the latest occasion.
func (c *Chart) neighbours(s *Series, x, y []float64, alone bool) {
	n := len(y)
	for i := 1; i < n; i++ {
		d := y[i] - y[i-1]
		switch {
		case math.Abs(d) <= c.RangeLimitOhm:
		case i == n-1:
			if alone {
				c.flag(s, Unconfirmed, i, d, c.RangeLimitOhm)
			}
		case alone && math.Abs(y[i+1]-y[i-1]) <= c.RangeLimitOhm:
			c.flag(s, Outlier, i, d, c.RangeLimitOhm)
			i++ // the way back is the same event
		case i > 1:
			if stays := stays(x, y, i); d*stays > 0 && math.Abs(stays) > c.RangeLimitOhm {
				c.flag(s, Step, i, stays, c.RangeLimitOhm)
			}
		}
	}
}

// values names what is off the line.
func (c *Chart) values(s *Series) {
	for i := range s.Occasions {
		off := s.Occasions[i].ResidualOhm
		switch {
		case math.Abs(off) <= c.ValueLimitOhm:
		case i == len(s.Occasions)-1:
			c.flag(s, Unconfirmed, i, off, c.ValueLimitOhm)
		default:
			c.flag(s, Outlier, i, off, c.ValueLimitOhm)
		}
	}
}

// stays is how much of a change before point i is still there among the next
// points, compared with those before: the smaller of the differences with and
// without the wear that the points on either side show by themselves, so that
// neither a summer between two tests nor a chance slope makes a step.
func stays(x, y []float64, i int) float64 {
	const near, far = 3, 8 // points for a level, points for a slope
	n := len(x)
	var slopes []float64
	for _, side := range [2][2]int{{max(0, i-far), i}, {i, min(n, i+far)}} {
		for j := side[0]; j < side[1]; j++ {
			for k := j + 1; k < side[1]; k++ {
				slopes = append(slopes, (y[k]-y[j])/(x[k]-x[j]))
			}
		}
	}
	slope := median(slopes)
	difference := func(slope float64) float64 {
		level := func(from, to int) []float64 {
			heights := make([]float64, 0, near)
			for j := from; j < to; j++ {
				heights = append(heights, y[j]-slope*(x[j]-x[i]))
			}
			slices.Sort(heights)
			return heights
		}
		return apart(level(max(0, i-near), i), level(i, min(n, i+near)))
	}
	plain, worn := difference(0), difference(slope)
	switch {
	case plain*worn <= 0:
		return 0
	case math.Abs(plain) < math.Abs(worn):
		return plain
	}
	return worn
}

// apart is the difference of the levels of two ordered lists: of their medians,
// and with only two values of the one nearer to the other list, because a
// median of two is half a wild value.
func apart(before, after []float64) float64 {
	up := after[len(after)/2] > before[len(before)/2]
	middle := func(list []float64, nearerIsLow bool) float64 {
		switch {
		case len(list) != 2:
			return list[len(list)/2]
		case nearerIsLow:
			return list[0]
		}
		return list[1]
	}
	return middle(after, up) - middle(before, !up)
}

func (c *Chart) has(kind ChangeKind) bool {
	return c != nil && slices.ContainsFunc(c.Changes, func(g Change) bool { return g.Kind == kind })
}

// pct writes a change as a share of a level.
func pct(change, level float64) string {
	return measure.ShowPercent(math.Abs(change) / level * 100)
}
