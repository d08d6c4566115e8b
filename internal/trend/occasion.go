package trend

import (
	"math"
	"slices"

	"packwright/internal/measure"
)

// Occasion is one test, or several within SameOccasionHours.
type Occasion struct {
	AtMS         int64    `json:"at_ms"` // unix ms, mean
	Tests        []string `json:"tests"` // ids
	RawOhm       float64  `json:"raw_ohm"`
	Ohm          float64  `json:"ohm"`             // what was used: RawOhm, or that at 20 °C
	OwnStdUncOhm float64  `json:"own_std_unc_ohm"` // standard, without what all share
	Weight       int      `json:"weight"`          // counts as that many tests, 1 to 4
	ResidualOhm  float64  `json:"residual_ohm"`    // above the line; 0 where there is none

	meanC float64 // °C, NaN where not all are known
}

// gather makes occasions of the tests, which are by time.
func (s *Series) gather(tests []*Test, o *Options) {
	common := make([]float64, 0, len(tests))
	s.Occasions = make([]Occasion, 0, len(tests))
	for from := 0; from < len(tests); {
		to := from + 1
		for to < len(tests) && float64(tests[to].AtMS-tests[from].AtMS) < SameOccasionHours*3_600_000 {
			to++
		}
		s.Occasions = append(s.Occasions, occasionOf(tests[from:to], o))
		from = to
	}
	if len(s.Occasions) > 0 {
		s.StartMS = s.Occasions[0].AtMS
	}
	for _, t := range tests {
		common = append(common, t.CommonStdUncOhm)
		if t.TemperatureC != nil {
			s.temperatures[0] = fmin(s.temperatures[0], *t.TemperatureC)
			s.temperatures[1] = -fmin(-s.temperatures[1], -*t.TemperatureC)
		}
	}
	s.common = median(common)
}

// fmin is the smaller of two, or the other one where one is NaN.
func fmin(a, b float64) float64 {
	if a < b || math.IsNaN(b) {
		return a
	}
	return b
}

// occasionOf makes one occasion of tests on the same day: the median of the
// values, with the own uncertainty of a single test, because what scatters from
// day to day is not made smaller by testing twice on one.
func occasionOf(tests []*Test, o *Options) Occasion {
	n := len(tests)
	if n == 1 { // nearly always, and a phone asks for all of a fleet
		t := tests[0]
		oc := Occasion{AtMS: t.AtMS, Tests: []string{t.ID}, Weight: 1, RawOhm: t.ResistanceOhm, meanC: math.NaN()}
		oc.Ohm, oc.OwnStdUncOhm = o.bring(t)
		if t.TemperatureC != nil {
			oc.meanC = *t.TemperatureC
		}
		return oc
	}
	oc := Occasion{Tests: make([]string, n), Weight: 1}
	raw, used, own := make([]float64, n), make([]float64, n), make([]float64, n)
	var sumMS int64
	for i, t := range tests {
		oc.Tests[i] = t.ID
		raw[i] = t.ResistanceOhm
		used[i], own[i] = o.bring(t)
		sumMS += t.AtMS - tests[0].AtMS
		if t.TemperatureC == nil {
			oc.meanC = math.NaN()
		} else {
			oc.meanC += *t.TemperatureC / float64(n)
		}
	}
	oc.AtMS = tests[0].AtMS + sumMS/int64(n)
	oc.RawOhm, oc.Ohm, oc.OwnStdUncOhm = median(raw), median(used), median(own)
	return oc
}

// days are the times of the occasions, in days after the first.
func (s *Series) days() []float64 {
	x := make([]float64, len(s.Occasions))
	for i := range x {
		x[i] = s.dayOf(s.Occasions[i].AtMS)
	}
	return x
}

func (s *Series) dayOf(atMS int64) float64 { return float64(atMS-s.StartMS) / dayMS }

func (s *Series) msOf(day float64) int64 { return s.StartMS + int64(math.Round(day*dayMS)) }

// lastDay is the day of the latest occasion; there is one.
func (s *Series) lastDay() float64 { return s.dayOf(s.Occasions[len(s.Occasions)-1].AtMS) }

func (s *Series) values() []float64 {
	y := make([]float64, len(s.Occasions))
	for i := range y {
		y[i] = s.Occasions[i].Ohm
	}
	return y
}

func (s *Series) weights() []int {
	w := make([]int, len(s.Occasions))
	for i := range w {
		w[i] = s.Occasions[i].Weight
	}
	return w
}

// ownStdUnc is the median own uncertainty, ohm.
func (s *Series) ownStdUnc() float64 {
	u := make([]float64, len(s.Occasions))
	for i := range u {
		u[i] = s.Occasions[i].OwnStdUncOhm
	}
	return median(u)
}

// weigh gives the occasions their weights and says whether they differ.
//
// A weight is proportional to 1/σ², σ² = u² + s² with u the occasion's own
// uncertainty and s the scatter from day to day that u does not explain, s² =
// (1.4826·MAD)² − median u², not below 0, about the unweighted line. Scatter
// that all share thus levels the weights, as it should. They are whole numbers
// from 1 to 4, so that an occasion counts as one to four tests and no single one
// can carry the median.
//
// All are 1 up to ExactTo occasions, where weights cost the exact distribution,
// and where σ² differs less than fourfold: there, by simulation, weights gain
// nothing. With σ fivefold and 20 occasions they take a third off the error.
func (s *Series) weigh(line *Line) bool {
	n := len(s.Occasions)
	if n <= ExactTo {
		return false
	}
	off, total := make([]float64, n), make([]float64, n)
	for i := range s.Occasions {
		oc := &s.Occasions[i]
		off[i] = math.Abs(oc.Ohm - line.At(s.dayOf(oc.AtMS)).Value)
		total[i] = measure.Square(oc.OwnStdUncOhm)
	}
	day2 := max(0, measure.Square(madFactor*median(off))-median(slices.Clone(total)))
	least, most := math.Inf(1), 0.0
	for i := range total {
		total[i] += day2
		least, most = min(least, total[i]), max(most, total[i])
	}
	if !(most >= 4*least) || least == 0 {
		return false
	}
	s.Weighted = true
	for i := range total {
		s.Occasions[i].Weight = int(max(1, math.Round(4*least/total[i])))
	}
	return true
}

// madFactor makes the median absolute deviation a standard deviation for normal
// scatter: 1/Φ⁻¹(0.75).
const madFactor = 1.482602218505602
