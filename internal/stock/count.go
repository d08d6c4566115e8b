package stock

import "math"

// counts is the distribution of how many of several independent packs are fit,
// each with its own probability: the Poisson binomial distribution, exact, by
// adding one pack after the other,
//
//	P'(k) = P(k)·(1 − p) + P(k−1)·p
//
// All terms are positive, so nothing cancels.
func counts(ps []float64) []float64 {
	d := make([]float64, 1, len(ps)+1)
	d[0] = 1
	for _, p := range ps {
		d = append(d, 0)
		another(d, p)
	}
	return d
}

// another adds a pack in place; what leaves at the upper end is lost.
func another(d []float64, p float64) {
	for k := len(d) - 1; k > 0; k-- {
		d[k] = float64(d[k]*(1-p)) + float64(d[k-1]*p)
	}
	d[0] *= 1 - p
}

// below is the probability of fewer than k.
func below(d []float64, k int) float64 {
	sum := 0.0
	for i := range min(max(k, 0), len(d)) {
		sum += d[i]
	}
	return min(sum, 1)
}

// atLeast is the probability of k or more, summed from its own end, so that
// small ones keep their digits.
func atLeast(d []float64, k int) float64 {
	sum := 0.0
	for i := len(d) - 1; i >= max(k, 0); i-- {
		sum += d[i]
	}
	return min(sum, 1)
}

// tail is what lies beyond each end of the 95 % interval, at most.
const tail = 0.025

// rounding is how far a sum may miss a probability by its last digits.
const rounding = 1e-12

// interval holds 95 % or more: no more than 2.5 % lie below it, nor above.
func interval(d []float64) (low, high int) {
	for beyond := d[0]; low < len(d)-1 && beyond <= tail+rounding; beyond += d[low] {
		low++
	}
	high = len(d) - 1
	for beyond := d[high]; high > low && beyond <= tail+rounding; beyond += d[high] {
		high--
	}
	return low, high
}

// probability makes of any number one from 0 to 1; NaN is 0.
func probability(p float64) float64 {
	if math.IsNaN(p) {
		return 0
	}
	return min(max(p, 0), 1)
}
