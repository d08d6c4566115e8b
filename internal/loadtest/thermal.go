package loadtest

import "math"

// What a metal-cased power resistor stands. The rules are ours, simple and on
// the careful side of the figures they rest on:
//
//   - With no heat sink it carries 20 % of its rating for good. Makers' figures
//     for this class run from 20 to 40 %, some people count on half (both from
//     memory); the lowest is taken.
//   - For a short time it takes 10 J for each watt of its rating, and 20 J on
//     its heat sink. A 50 W part weighs 30 to 35 g, so 500 J warm it by 16 to
//     19 K (0.9 J/(g·K), calculated). Makers allow about five times the rating
//     for 5 s on the heat sink, 25 J per watt (from memory).
//   - Never more than five times its rating, however short: the wire inside is
//     far hotter than the case.
const (
	bareShare       = 0.2 // of the rating, with no heat sink
	barePulseJPerW  = 10  // joule per watt of rating, in one go
	sinkPulseJPerW  = 20  // the same on the heat sink
	mostOverload    = 5   // times the rating
	handlingS       = 3   // second, to read the display and to disconnect after the reading second
	recoveryS       = 60  // second, between readings
	unratedLongestS = 5   // second on load where the rating is unknown (common practice, no source)

	heatCapacityJPerKW = 0.6  // J/K for each watt of rating: 30 to 35 g of aluminium for a 50 W part (calculated)
	mostRiseK          = 1000 // as much as a test can record; such a load has been refused
)

// lastingW is the power a load carries for good, watt.
func (l Load) lastingW() float64 {
	if l.OnHeatSink {
		return l.RatingW
	}
	return float64(bareShare * l.RatingW)
}

// longestS is how long a load stands powerW, in seconds, counted from cold;
// +Inf where it can stay on.
func (l Load) longestS(powerW float64) float64 {
	switch {
	case l.RatingW == 0:
		return unratedLongestS
	case powerW <= l.lastingW():
		return math.Inf(1)
	}
	return l.pulseJPerW() * l.RatingW / powerW
}

// pulseJPerW is the energy the load takes in one go, joule per watt of rating.
func (l Load) pulseJPerW() float64 {
	if l.OnHeatSink {
		return sinkPulseJPerW
	}
	return barePulseJPerW
}

// pauseS is the wait between readings, in seconds, rounded up to five: long
// enough for the load's mean power to stay within what it carries for good,
// and at least a minute for the pack to recover (its slow part has a time
// constant of about 13 s, calculated from the simulator's module file that
// package cells names; a minute is 4.6 of them).
func (l Load) pauseS(powerW, onS float64) float64 {
	pause := float64(recoveryS)
	if lasting := l.lastingW(); lasting > 0 {
		pause = max(pause, powerW*onS/lasting-onS)
	}
	return 5 * math.Ceil(pause/5)
}
