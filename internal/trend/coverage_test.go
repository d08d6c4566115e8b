package trend

import (
	"math"
	"math/rand/v2"
	"testing"

	"packwright/internal/measure"
)

// scatter is what a simulated test adds to the truth, as a share of R, and the
// own uncertainty it states.
type scatter func(r *rand.Rand) (off, own float64)

func normal(sd float64) scatter {
	return func(r *rand.Rand) (float64, float64) { return sd * r.NormFloat64(), 0.005 }
}

// wild: one test in ten scatters fivefold.
func wild(r *rand.Rand) (float64, float64) {
	off := 0.02 * r.NormFloat64()
	if r.IntN(10) == 0 {
		off *= 5
	}
	return off, 0.005
}

// uneven: half the tests are known five times as well.
func uneven(r *rand.Rand) (float64, float64) {
	own := []float64{0.01, 0.05}[r.IntN(2)]
	return own * r.NormFloat64(), own
}

// simulate makes n tests 3 to 17 days apart of a pack that wears straight on.
func simulate(r *rand.Rand, n int, perMonth float64, off scatter) (tests []Test, truth func(atMS float64) float64) {
	const fresh = 0.08 // ohm
	truth = func(atMS float64) float64 { return fresh * (1 + perMonth*(atMS-float64(autumn))/dayMS/30) }
	tests = weekly(make([]float64, n)...)
	day := 0.0
	for i := range tests {
		day += 3 + 14*r.Float64()
		e, own := off(r)
		tests[i].AtMS = autumn + int64(day*dayMS)
		tests[i].OwnStdUncOhm = own * fresh
		tests[i].ResistanceOhm = truth(float64(tests[i].AtMS)) + e*fresh
	}
	return tests, truth
}

// leastSquares is the yardstick for how wide an interval may be: the standard
// uncertainties of slope and height by ordinary least squares of the same tests.
func leastSquares(tests []Test) (slope float64, height func(day float64) float64) {
	n := float64(len(tests))
	var x, y, xx, xy, left float64 // means, sums about them
	day := func(t *Test) float64 { return float64(t.AtMS-tests[0].AtMS) / dayMS }
	for i := range tests {
		x += day(&tests[i]) / n
		y += tests[i].ResistanceOhm / n
	}
	for i := range tests {
		d := day(&tests[i]) - x
		xx += d * d
		xy += d * (tests[i].ResistanceOhm - y)
	}
	for i := range tests {
		off := tests[i].ResistanceOhm - y - xy/xx*(day(&tests[i])-x)
		left += off * off
	}
	s := math.Sqrt(left / (n - 2))
	return s / math.Sqrt(xx), func(day float64) float64 { return s * math.Sqrt(1/n+(day-x)*(day-x)/xx) }
}

// TestCoverage: how often the intervals hold the truth, over simulated packs
// with known wear. The slope's 95 % interval and the 90 % range of dates must not
// hold it less often than nominal by more than the chance of so many packs
// (three standard deviations); Gilbert's interval is known to hold it more often
// with few points, and so is ours. The probabilities at the true date must be
// even: as often above one half as below.
//
// Nor may they hold it by being wide: shares held and widths are bounded above by
// what these and twenty other seeds gave. Widths are medians beside those of least
// squares from the same tests. With few tests ours are much wider, which is the
// price of not taking the scatter for normal; with many wild ones they are narrower.
func TestCoverage(t *testing.T) {
	const packs = 1000
	for i, c := range []struct {
		name                         string
		n                            int
		off                          scatter
		mostSlopes, mostDates        float64 // share held
		widestSlope, widestDateRange float64 // of least squares
	}{
		{"normal", 5, normal(0.03), 0.995, 0.999, 2.15, 3.6},
		{"normal", 6, normal(0.03), 0.99, 0.995, 1.7, 2.45},
		{"normal", 8, normal(0.03), 0.985, 0.985, 1.35, 1.75},
		{"normal", 12, normal(0.03), 0.98, 0.97, 1.2, 1.4},
		{"normal", 20, normal(0.03), 0.975, 0.95, 1.13, 1.24},
		{"normal", 40, normal(0.03), 0.97, 0.94, 1.09, 1.15},
		{"wild", 12, wild, 0.985, 0.98, 1.1, 1.27},
		{"wild", 20, wild, 0.98, 0.965, 0.93, 1.03},
		{"uneven, weighted", 20, uneven, 0.995, 0.993, 0.95, 1},
	} {
		seed := uint64(100 + i)
		r := rand.New(rand.NewPCG(seed, 4))
		var slopes, dates, late, early, half float64
		var slopeWidths, dateWidths []float64 // of least squares
		for range packs {
			tests, truth := simulate(r, c.n, 0.03, c.off)
			a := mustAnalyse(t, tests, Options{})
			first, last := float64(tests[0].AtMS), float64(tests[c.n-1].AtMS)
			if slope := 0.08 * 0.03 / 30; a.Line.SlopeLow <= slope && slope <= a.Line.SlopeHigh {
				slopes++
			}
			crosses := last + (last-first)*r.Float64()
			uSlope, uHeight := leastSquares(tests)
			day := (crosses - first) / dayMS
			slopeWidths = append(slopeWidths, (a.Line.SlopeHigh-a.Line.SlopeLow)/(2*measure.CoverageFactor(float64(c.n-2))*uSlope))
			dateWidths = append(dateWidths, a.Line.At(day).StdUnc/uHeight(day)) // both with n − 2 degrees of freedom
			p := probabilityAbove(a.Line, truth(crosses), day)
			switch {
			case p <= earlyProbability:
				late++ // the earliest date is still to come
			case p >= lateProbability:
				early++
			default:
				dates++
			}
			if p < 0.5 {
				half++
			}
		}
		slopeWidth, dateWidth := median(slopeWidths), median(dateWidths)
		t.Logf("seed %d, %-16s n %2d: slope %.1f %% (95 nominal), %.2f times as wide as by least squares, dates %.2f times, dates %.1f %% (90 nominal; too late %.1f %%, too soon %.1f %%), likely date too late %.1f %%",
			seed, c.name, c.n, slopes/packs*100, slopeWidth, dateWidth, dates/packs*100, late/packs*100, early/packs*100, half/packs*100)
		allow := func(p float64) float64 { return 3 * math.Sqrt(p*(1-p)/packs) }
		if share := slopes / packs; share < 0.95-allow(0.95) || share > c.mostSlopes {
			t.Errorf("seed %d, %s, n %d: the 95 %% interval of the slope holds it in %.1f %%", seed, c.name, c.n, share*100)
		}
		if share := dates / packs; share < 0.9-allow(0.9) || share > c.mostDates {
			t.Errorf("seed %d, %s, n %d: the 90 %% range of dates holds the true one in %.1f %%", seed, c.name, c.n, share*100)
		}
		if slopeWidth > c.widestSlope || dateWidth > c.widestDateRange {
			t.Errorf("seed %d, %s, n %d: intervals are %.2f (slope) and %.2f (dates) times as wide as by least squares", seed, c.name, c.n, slopeWidth, dateWidth)
		}
		if share := half / packs; math.Abs(share-0.5) > allow(0.5) {
			t.Errorf("seed %d, %s, n %d: the likely date is too late in %.1f %%", seed, c.name, c.n, share*100)
		}
	}
}

// TestFalseAlarms: how often a pack that does not wear is said to, and how often
// an even one is said to have jumped, with 2 % of scatter.
func TestFalseAlarms(t *testing.T) {
	const packs = 2000
	for i, n := range []int{6, 12, 20} {
		seed := uint64(200 + i)
		r := rand.New(rand.NewPCG(seed, 4))
		var significant, trends, steps, flagged float64
		for range packs {
			tests, _ := simulate(r, n, 0, normal(0.02))
			a := mustAnalyse(t, tests, Options{LimitOhm: 0.1})
			if a.Kendall.P <= significance {
				significant++
			}
			if a.Outcome != NoTrend && a.Outcome != Stepped {
				trends++
			}
			if a.Chart.has(Step) {
				steps++
			}
			if len(a.Chart.Changes) > 0 {
				flagged++
			}
		}
		t.Logf("seed %d, n %2d: p ≤ 5 %% in %.1f %%, called a trend %.1f %%, a step %.2f %%, any flag %.1f %%",
			seed, n, significant/packs*100, trends/packs*100, steps/packs*100, flagged/packs*100)
		if significant/packs > 0.05+3*math.Sqrt(0.05*0.95/packs) || steps/packs > 0.02 || trends > significant {
			t.Errorf("seed %d, n %d: too many false alarms", seed, n)
		}
	}
}

// TestFindsSteps: a jump of 15 % that stays, amid 2 % of scatter.
func TestFindsSteps(t *testing.T) {
	const packs = 500
	for i, c := range []struct {
		n     int
		least float64
	}{{6, 0.7}, {12, 0.88}, {20, 0.94}} {
		seed := uint64(300 + i)
		r := rand.New(rand.NewPCG(seed, 4))
		found := 0.0
		for range packs {
			tests, _ := simulate(r, c.n, 0.01, normal(0.02))
			at := 2 + r.IntN(c.n-3)
			for j := range tests[at:] {
				tests[at+j].ResistanceOhm += 0.15 * 0.08
			}
			for _, g := range mustAnalyse(t, tests, Options{LimitOhm: 0.1}).Chart.Changes {
				if g.Kind == Step && g.Occasion == at {
					found++
				}
			}
		}
		t.Logf("seed %d, n %2d: found %.1f %%", seed, c.n, found/packs*100)
		if found/packs < c.least {
			t.Errorf("seed %d, n %d: only %.1f %% of steps found", seed, c.n, found/packs*100)
		}
	}
}
