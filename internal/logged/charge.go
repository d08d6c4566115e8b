package logged

import "math"

// flow sums charge and energy by trapezoids, apart for the two directions of
// current. Units are A·s and J.
type flow struct {
	posC, negC float64 // charge with positive and with negative current, both ≥ 0
	posJ, negJ float64

	// What the uncertainty needs.
	net, coarse float64 // net charge by all rows, and by every other row
	netJ        float64
	coarseJ     float64
	posS, negS  float64 // second with each direction
	gap2        float64 // Σ (length of gap)², s²
	gapS        float64 // second

	odd      bool // coarse waits for the second of two steps
	from     Row
	interval float64 // second, all steps
}

// add takes the step between two rows.
func (f *flow) add(a, b Row, gap bool) {
	dt := b.TimeS - a.TimeS
	f.interval += dt
	pa, pb := a.Amps*a.Volts, b.Amps*b.Volts
	split(dt, a.Amps, b.Amps, &f.posC, &f.negC)
	split(dt, pa, pb, &f.posJ, &f.negJ)
	if a.Amps+b.Amps > 0 {
		f.posS += dt
	} else if a.Amps+b.Amps < 0 {
		f.negS += dt
	}
	step, stepJ := dt*(a.Amps+b.Amps)/2, dt*(pa+pb)/2
	f.net += step
	f.netJ += stepJ
	switch {
	case gap: // its own uncertainty; a coarse step never spans it
		f.closePair(a)
		f.coarse += step
		f.coarseJ += stepJ
		f.gap2 += dt * dt
		f.gapS += dt
	case f.odd:
		f.closePair(b)
	default:
		f.from, f.odd = a, true
	}
}

// closePair ends a coarse step at row r.
func (f *flow) closePair(r Row) {
	if f.odd {
		dt := r.TimeS - f.from.TimeS
		f.coarse += dt * (f.from.Amps + r.Amps) / 2
		f.coarseJ += dt * (f.from.Amps*f.from.Volts + r.Amps*r.Volts) / 2
		f.odd = false
	}
}

// steps are the standard uncertainties, in A·s and J, of straight lines between
// rows: the trapezoidal rule's error is a third of what halving the number of
// rows changes (Richardson's extrapolation). last is the row reached.
func (f flow) steps(last Row) (charge, energy float64) {
	f.closePair(last)
	return math.Abs(f.net-f.coarse) / 3, math.Abs(f.netJ-f.coarseJ) / 3
}

// split adds the area under a line from a to b over dt to what is above and
// what is below nought.
func split(dt, a, b float64, above, below *float64) {
	switch {
	case a >= 0 && b >= 0:
		*above += dt * (a + b) / 2
	case a <= 0 && b <= 0:
		*below -= dt * (a + b) / 2
	default: // it crosses nought
		part := a / (a - b) // of dt until it does
		first, second := dt*part*a/2, dt*(1-part)*b/2
		*above += max(first, 0) + max(second, 0)
		*below -= min(first, 0) + min(second, 0)
	}
}

// under tells how much of dt a line from a to b spends below limit.
func under(dt, a, b, limit float64) float64 {
	switch {
	case a >= limit && b >= limit:
		return 0
	case a < limit && b < limit:
		return dt
	case a < limit:
		return dt * (limit - a) / (b - a)
	}
	return dt * (limit - b) / (a - b)
}
