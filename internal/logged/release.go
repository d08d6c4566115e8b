package logged

import "math"

// How a release of the load is told (chosen, no source; the results on the
// drive log hardly depend on them).
const (
	loadedS      = 0.5  // second of steady load before
	afterS       = 1.0  // second after the release at which the resistance is read
	fallS        = 0.5  // second from the first fall of the current to half of it, at most
	settleS      = 0.3  // second from there until it is off
	steadyShare  = 0.25 // spread of the current before, of its mean
	offShare     = 0.2  // current left, of that before
	smallestA    = 0.5  // ampere before
	largestShare = 0.3  // of the largest release: smaller ones are left out
	slowestS     = 0.25 // interval of rows with which one second can be read
	mostReleases = 2000
	mostRing     = 512
)

// release is the voltage coming back after a load.
type release struct {
	atS     float64 // second from the first row
	beforeA float64
	ohm     float64
}

// releases watches for them row by row. Only the last half second is kept.
type releases struct {
	ring  []Row // the last loadedS
	found []release

	waiting  bool
	sinceS   float64 // when the current began to fall
	offAtS   float64 // when it was half; NaN before
	meanV    float64 // before
	meanA    float64
	previous Row
}

// add takes the next row; typical is the usual interval.
func (s *releases) add(r Row, gap bool, typical float64) {
	if gap || typical > slowestS {
		s.ring, s.waiting = s.ring[:0], false
	}
	if s.waiting {
		s.follow(r)
	} else if n := len(s.ring); n > 0 && math.Abs(r.Amps) < 0.95*math.Abs(s.ring[n-1].Amps) {
		s.begin(r, typical)
	}
	s.previous = r
	if n := len(s.ring); n > 0 && r.TimeS-s.ring[n-1].TimeS < loadedS/mostRing {
		return // a fast logger: not every row is needed before
	}
	s.ring = append(s.ring, r)
	old := 0
	for old < len(s.ring)-1 && r.TimeS-s.ring[old].TimeS > loadedS {
		old++
	}
	if old > 0 {
		s.ring = append(s.ring[:0], s.ring[old:]...)
	}
}

// begin checks whether steady load came before.
func (s *releases) begin(r Row, typical float64) {
	n := len(s.ring)
	last := s.ring[n-1]
	if n < 3 || last.TimeS-s.ring[0].TimeS < loadedS-1.5*typical || math.Abs(last.Amps) < smallestA {
		return
	}
	low, high, sumA, sumV := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, b := range s.ring {
		low, high = min(low, b.Amps), max(high, b.Amps)
		sumA += b.Amps
		sumV += b.Volts
	}
	s.meanA, s.meanV = sumA/float64(n), sumV/float64(n)
	if high-low > steadyShare*math.Abs(s.meanA) || math.Abs(r.Amps) >= 0.9*math.Abs(s.meanA) {
		return
	}
	s.waiting, s.sinceS, s.offAtS = true, s.previous.TimeS, math.NaN()
	s.follow(r)
}

// follow waits until one second after the current was half of what it was.
func (s *releases) follow(r Row) {
	p, share := s.previous, r.Amps/s.meanA
	if math.IsNaN(s.offAtS) {
		if share < 0.5 {
			part := (p.Amps/s.meanA - 0.5) / (p.Amps/s.meanA - share)
			s.offAtS = p.TimeS + min(max(part, 0), 1)*(r.TimeS-p.TimeS)
		} else if share > 0.95 || r.TimeS-s.sinceS > fallS {
			s.waiting = false
		}
		return
	}
	since := r.TimeS - s.offAtS
	if since > settleS && math.Abs(share) > offShare {
		s.waiting = false // another load came
		return
	}
	if since < afterS {
		return
	}
	s.waiting = false
	part := (s.offAtS + afterS - p.TimeS) / (r.TimeS - p.TimeS)
	v, a := p.Volts+part*(r.Volts-p.Volts), p.Amps+part*(r.Amps-p.Amps)
	if len(s.found) < mostReleases {
		s.found = append(s.found, release{s.offAtS, s.meanA, (v - s.meanV) / (s.meanA - a)})
	}
}

// ohms are the resistances of the large releases of discharge, whose current
// has that sign.
func (s *releases) ohms(sign float64) []float64 {
	largest := 0.0
	for _, r := range s.found {
		largest = max(largest, sign*r.beforeA)
	}
	var out []float64
	for _, r := range s.found {
		if sign*r.beforeA >= largestShare*largest && sign*r.beforeA > 0 {
			out = append(out, sign*r.ohm)
		}
	}
	return out
}
