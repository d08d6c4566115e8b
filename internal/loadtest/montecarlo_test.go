package loadtest

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// These tests propagate distributions by simulation, as JCGM 101:2008 clause 7
// says, and compare with the analytic budget. They share nothing with it but
// the method's equation. Seeds are fixed.

const trials = 100_000

// rect draws from a rectangular distribution of half-width a.
func rect(r *rand.Rand, a float64) float64 { return a * (2*r.Float64() - 1) }

// spread is the standard deviation of the draws, and the share of them within
// ±halfWidth of centre.
func spread(draws []float64, centre, halfWidth float64) (sd, within float64) {
	mean, n := 0.0, float64(len(draws))
	for _, x := range draws {
		mean += x / n
		if math.Abs(x-centre) <= halfWidth {
			within += 1 / n
		}
	}
	for _, x := range draws {
		sd += (x - mean) * (x - mean) / (n - 1)
	}
	return math.Sqrt(sd), within
}

// simulation draws R once; gain is the meter's, as a factor common to its readings.
type simulation func(r *rand.Rand, gain float64) float64

// volts is what was at the terminals when a meter with this gain showed v.
func volts(r *rand.Rand, v, gain float64, m Meter) float64 {
	return (v - rect(r, m.Counts*m.ResolutionV)) / gain
}

func resistor(r *rand.Rand, t Test, ohm float64) float64 {
	out := ohm
	if t.LoadUncertaintyOhm != nil {
		out += *t.LoadUncertaintyOhm * r.NormFloat64()
	} else {
		out += rect(r, ohm**t.LoadTolerancePct/100)
	}
	if t.LoadTempcoPpmK != nil {
		out += rect(r, ohm**t.LoadTempcoPpmK*1e-6**t.LoadRiseK)
	}
	return out
}

func leads(r *rand.Rand, t Test) float64 {
	if t.LeadUncertaintyOhm == nil {
		return t.LeadOhm
	}
	return t.LeadOhm + *t.LeadUncertaintyOhm*r.NormFloat64()
}

var simulated = []struct {
	name string
	test Test
	draw func(t Test) simulation
}{
	{"known load, display and tolerance", Test{
		Method: KnownLoad, OpenV: []float64{12.84}, LoadedV: []float64{12.71}, LoadOhm: 10, LoadTolerancePct: ptr(5),
		Meter: Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
	}, simulateKnownLoad},
	{"known load, measured, heated, with leads", Test{
		Method: KnownLoad, OpenV: []float64{13.1}, LoadedV: []float64{12.4}, LoadOhm: 2.5, LoadUncertaintyOhm: ptr(0.02),
		LoadTempcoPpmK: ptr(100), LoadRiseK: ptr(80), LeadOhm: 0.05, LeadUncertaintyOhm: ptr(0.02),
		Meter: Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
	}, simulateKnownLoad},
	{"two loads", Test{
		Method: TwoLoads, Loaded1V: []float64{12.76}, Loaded2V: []float64{12.33}, Load1Ohm: 22, Load2Ohm: 2.7, LoadTolerancePct: ptr(2),
		LeadOhm: 0.03, LeadUncertaintyOhm: ptr(0.01), Meter: Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
	}, func(t Test) simulation {
		return func(r *rand.Rand, gain float64) float64 {
			v1, v2 := volts(r, t.Loaded1V[0], gain, t.Meter), volts(r, t.Loaded2V[0], gain, t.Meter)
			one, two, lead := resistor(r, t, t.Load1Ohm), resistor(r, t, t.Load2Ohm), leads(r, t)
			return (v1 - v2) / (v2/(two+lead) - v1/(one+lead))
		}
	}},
	{"measured current", Test{
		Method: MeasuredCurrent, OpenV: []float64{12.84}, LoadedV: []float64{12.30}, CurrentA: []float64{4.9},
		CurrentPct: ptr(1.5), CurrentCounts: ptr(3), CurrentResolutionA: ptr(0.01), Meter: Meter{ReadingPct: 1, Counts: 1, ResolutionV: 0.001},
	}, func(t Test) simulation {
		return func(r *rand.Rand, gain float64) float64 {
			i := t.CurrentA[0] - rect(r, t.CurrentA[0]**t.CurrentPct/100) - rect(r, *t.CurrentCounts**t.CurrentResolutionA)
			return (volts(r, t.OpenV[0], gain, t.Meter) - volts(r, t.LoadedV[0], gain, t.Meter)) / i
		}
	}},
}

func simulateKnownLoad(t Test) simulation {
	return func(r *rand.Rand, gain float64) float64 {
		v0, v1 := volts(r, t.OpenV[0], gain, t.Meter), volts(r, t.LoadedV[0], gain, t.Meter)
		return (resistor(r, t, t.LoadOhm) + leads(r, t)) * (v0/v1 - 1)
	}
}

// TestMonteCarlo: the budget's standard uncertainty is the spread of the
// simulated results, and ± U holds 95 % of them.
func TestMonteCarlo(t *testing.T) {
	for _, c := range simulated {
		result, err := Compute(c.test, Options{})
		if err != nil {
			t.Fatal(c.name, err)
		}
		r := rand.New(rand.NewPCG(1, 2))
		draw := c.draw(c.test)
		draws := make([]float64, trials)
		for i := range draws {
			draws[i] = draw(r, 1+rect(r, c.test.Meter.ReadingPct/100))
		}
		sd, within := spread(draws, result.ResistanceOhm, result.ExpandedUncertaintyOhm)
		if math.Abs(sd/result.StandardUncertaintyOhm-1) > 0.01 {
			t.Errorf("%s: u = %.6g Ω, simulated %.6g Ω", c.name, result.StandardUncertaintyOhm, sd)
		}
		// Sums of few rectangular distributions have shorter tails than the normal one.
		if within < 0.945 || within > 0.985 {
			t.Errorf("%s: ± U holds %.1f %% of the simulated results", c.name, 100*within)
		}
	}
}

// TestGainCancels: with a meter that may be wrong by 30 %, the same on both
// readings, the simulated results do not move at all where R depends on the
// ratio of the readings, and neither does the budget. With a measured current
// they do, as much as the budget says.
func TestGainCancels(t *testing.T) {
	const wild = 0.30
	for _, c := range simulated {
		draw := c.draw(c.test)
		good, bad, gain := rand.New(rand.NewPCG(3, 4)), rand.New(rand.NewPCG(3, 4)), rand.New(rand.NewPCG(5, 6))
		moved, draws := 0.0, make([]float64, trials)
		for i := range draws {
			steady := draw(good, 1)
			draws[i] = draw(bad, 1+rect(gain, wild))
			moved = max(moved, math.Abs(draws[i]/steady-1))
		}

		badMeter := c.test
		badMeter.Meter.ReadingPct = 100 * wild
		noGain := c.test
		noGain.Meter.ReadingPct = 0
		with, err := Compute(badMeter, Options{})
		without, err2 := Compute(noGain, Options{})
		if err != nil || err2 != nil {
			t.Fatal(c.name, err, err2)
		}
		if c.test.Method == MeasuredCurrent {
			sd, _ := spread(draws, with.ResistanceOhm, 1)
			// 1/g is not linear over ±30 %, hence the wider tolerance.
			if moved < 0.2 || math.Abs(sd/with.StandardUncertaintyOhm-1) > 0.15 || with.StandardUncertaintyOhm < 5*without.StandardUncertaintyOhm {
				t.Errorf("%s: gain should count: moved %.2g, u = %.3g Ω, simulated %.3g Ω", c.name, moved, with.StandardUncertaintyOhm, sd)
			}
			continue
		}
		// V0/V1 − 1 loses two digits to cancellation, no more.
		if moved > 1e-11 {
			t.Errorf("%s: a gain error moved the result by %.2g of it", c.name, moved)
		}
		if with.StandardUncertaintyOhm != without.StandardUncertaintyOhm {
			t.Errorf("%s: u = %g Ω with a wild meter, %g Ω with a perfect one", c.name, with.StandardUncertaintyOhm, without.StandardUncertaintyOhm)
		}
		i := slices.IndexFunc(with.Budget, func(l BudgetLine) bool { return l.Quantity == "g" })
		if i < 0 || with.Budget[i].StdUnc < 0.17 || with.Budget[i].ContributionOhm != 0 {
			t.Errorf("%s: the budget does not show that the gain cancels", c.name)
		}
	}
}

// TestCoverageOfRepeats: tests of one pack are simulated, three repeats each,
// with noise that is common to a pair of readings (the pack recovers) and noise
// that is not. R ± U must hold the pack's resistance in 95 of 100 tests. It
// does not with the normal factor 1.96, or with the pairs' covariance left out.
func TestCoverageOfRepeats(t *testing.T) {
	const (
		pack, open, load = 0.1, 12.84, 2.5
		common, own      = 0.03, 0.002 // volt
		tests            = 20_000
	)
	r := rand.New(rand.NewPCG(7, 8))
	var held, heldNormal, heldApart float64
	for range tests {
		one := Test{Method: KnownLoad, LoadOhm: load, LoadUncertaintyOhm: ptr(1e-9), Meter: Meter{ResolutionV: 1e-6}}
		for range 3 {
			drift := common * r.NormFloat64()
			one.OpenV = append(one.OpenV, open+drift+own*r.NormFloat64())
			one.LoadedV = append(one.LoadedV, (open+drift)*load/(load+pack)+own*r.NormFloat64())
		}
		result, err := Compute(one, Options{})
		if err != nil {
			t.Fatal(err)
		}
		off := math.Abs(result.ResistanceOhm - pack)
		if off <= result.ExpandedUncertaintyOhm {
			held += 1.0 / tests
		}
		if off <= 1.96*result.StandardUncertaintyOhm {
			heldNormal += 1.0 / tests
		}
		if off <= result.CoverageFactor*scatterApart(one) {
			heldApart += 1.0 / tests
		}
	}
	if math.Abs(held-0.95) > 0.006 { // four standard deviations of 20 000 tests
		t.Errorf("± U holds the true value in %.1f %% of tests", 100*held)
	}
	if heldNormal > 0.85 {
		t.Errorf("with k = 1.96 it would hold in %.1f %%: the test does not tell", 100*heldNormal)
	}
	if heldApart < 0.999 {
		t.Errorf("without covariance it would hold in %.1f %%: the test does not tell", 100*heldApart)
	}
}

// scatterApart is u(R) from the scatter of each list alone, as if the pairs
// were not pairs.
func scatterApart(t Test) float64 {
	sd := func(list []float64) float64 { s, _ := spread(list, 0, 0); return s / math.Sqrt(float64(len(list))) }
	v0, v1 := mean(t.OpenV), mean(t.LoadedV)
	return t.LoadOhm * math.Hypot(sd(t.OpenV)/v1, sd(t.LoadedV)*v0/(v1*v1))
}
