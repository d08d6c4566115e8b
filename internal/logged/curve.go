package logged

import "math"

// mostBuckets bounds the curve: two for each pixel of a wide phone.
const mostBuckets = 1024

// Bucket is a stretch of the run with the least and greatest of its rows, so a
// dip of one row stays visible however long the run is.
type Bucket struct {
	TimeS float64  `json:"time_s"` // of its first row, second from the first row of the run
	MinV  float64  `json:"min_v"`
	MaxV  float64  `json:"max_v"`
	MinA  *float64 `json:"min_a"` // null where not logged
	MaxA  *float64 `json:"max_a"`
	Rows  int      `json:"rows"`

	minA, maxA float64
	index      int
}

// curve keeps at most mostBuckets, twice as wide whenever they do not reach.
type curve struct {
	width   float64 // second
	buckets []Bucket
}

// add takes a row at t second from the first one.
func (c *curve) add(t float64, r Row) {
	if c.width == 0 {
		c.width = 1e-3
	}
	for t >= c.width*mostBuckets {
		c.widen()
	}
	index := int(t / c.width)
	if n := len(c.buckets); n == 0 || c.buckets[n-1].index != index {
		c.buckets = append(c.buckets, Bucket{TimeS: t, MinV: r.Volts, MaxV: r.Volts, minA: r.Amps, maxA: r.Amps, Rows: 1, index: index})
		return
	}
	b := &c.buckets[len(c.buckets)-1]
	b.join(Bucket{MinV: r.Volts, MaxV: r.Volts, minA: r.Amps, maxA: r.Amps, Rows: 1})
}

// widen makes every bucket twice as wide.
func (c *curve) widen() {
	c.width *= 2
	kept := c.buckets[:0]
	for _, b := range c.buckets {
		b.index /= 2
		if n := len(kept); n > 0 && kept[n-1].index == b.index {
			kept[n-1].join(b)
			continue
		}
		kept = append(kept, b)
	}
	c.buckets = kept
}

func (b *Bucket) join(other Bucket) {
	b.MinV, b.MaxV = min(b.MinV, other.MinV), max(b.MaxV, other.MaxV)
	b.minA, b.maxA = min(b.minA, other.minA), max(b.maxA, other.maxA)
	b.Rows += other.Rows
}

// list is the buckets, current times sign (1 or −1); never nil.
func (c *curve) list(hasAmps bool, sign float64) []Bucket {
	out := make([]Bucket, len(c.buckets))
	for i, b := range c.buckets {
		if hasAmps && !math.IsNaN(b.minA) {
			low, high := sign*b.minA, sign*b.maxA
			if sign < 0 {
				low, high = high, low
			}
			b.MinA, b.MaxA = &low, &high
		}
		out[i] = b
	}
	return out
}
