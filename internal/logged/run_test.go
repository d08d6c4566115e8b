package logged

import (
	"math"
	"testing"

	"packwright/internal/measure"
)

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func codes(r Result) map[string]bool {
	out := map[string]bool{}
	for _, w := range r.Warnings {
		out[w.Code] = true
	}
	return out
}

func issueRows(list []IssueCount, k IssueKind) int {
	for _, i := range list {
		if i.Kind == k {
			return i.Rows
		}
	}
	return 0
}

// TestTrapezoids: exact sums. 2 A for half an hour is 1 Ah; a current falling
// in a line from 2 A to −2 A over an hour is 0.5 Ah out and 0.5 Ah in; energy
// is that of the line between the products.
func TestTrapezoids(t *testing.T) {
	r, err := run(Options{AmpPct: new(0.0), AmpZeroA: new(0.0), VoltPct: new(0.0), Discharge: "positive"},
		[]Row{{TimeS: 0, Volts: 13, Amps: 2}, {TimeS: 900, Volts: 12.5, Amps: 2}, {TimeS: 1800, Volts: 12, Amps: 2}})
	if err != nil {
		t.Fatal(err)
	}
	if c := r.Charge; !near(c.OutAh.Value, 1, 1e-12) || !near(c.OutWh.Value, 12.5, 1e-12) || c.InAh.Value != 0 || *c.OutAh.ExpandedUncertainty != 0 {
		t.Errorf("%+v", c)
	}
	r, err = run(Options{Discharge: "positive"}, []Row{{TimeS: 0, Volts: 13, Amps: 2}, {TimeS: 3600, Volts: 13, Amps: -2}})
	if err != nil || !near(r.Charge.OutAh.Value, 0.5, 1e-12) || !near(r.Charge.InAh.Value, 0.5, 1e-12) {
		t.Errorf("%v %+v", err, r.Charge)
	}
}

// TestStepUncertainty: an exponential decay logged every ten minutes. The
// integral is known in closed form, and the stated uncertainty of the steps
// holds the error of the trapezoids.
func TestStepUncertainty(t *testing.T) {
	var rows []Row
	for i := 0; i <= 24; i++ {
		s := float64(i) * 600
		rows = append(rows, Row{TimeS: s, Volts: 13 - s/10000, Amps: 3 * math.Exp(-s/4000)})
	}
	r, err := run(Options{AmpPct: new(0.0), AmpZeroA: new(0.0), Discharge: "positive"}, rows)
	if err != nil {
		t.Fatal(err)
	}
	want := 3 * 4000 * (1 - math.Exp(-14400.0/4000)) / 3600
	off := r.Charge.OutAh.Value - want
	if u := *r.Charge.OutAh.StandardUncertainty; math.Abs(off) < 1e-4 || math.Abs(off) > 1.1*u || u > 2*math.Abs(off) {
		t.Errorf("off by %g Ah, u %g", off, u)
	}
}

// TestCapacityByLoad: a resistor of 20 Ω, read every five minutes. The stop
// voltage is crossed between rows and found in a line; what comes after does
// not count.
func TestCapacityByLoad(t *testing.T) {
	var rows []Row
	for s := 0.0; s <= 20000; s += 300 {
		rows = append(rows, Row{TimeS: s, Volts: 13 - s*3.0/15300, Amps: nan}) // 10 V at 15 300 s, a row's time
	}
	r, err := run(Options{LoadOhm: 20, RatedAh: 3, PackC: new(21.0), FromFull: new(true)}, rows)
	if err != nil {
		t.Fatal(err)
	}
	c := r.Capacity
	want := 11.5 / 20 * 15300 / 3600
	if !c.Reached || !near(*c.StopAtS, 15300, 1e-6) || !near(c.OutAh.Value, want, 1e-9) || !near(c.SharePct.Value, want/3*100, 1e-9) {
		t.Errorf("%+v", c)
	}
	// u: 5 % of the resistor and 0.5 % of the volts, rectangular.
	if u := want * math.Hypot(0.05, 0.005) / math.Sqrt(3); !near(*c.OutAh.StandardUncertainty/u, 1, 1e-4) {
		t.Errorf("u %g, want %g", *c.OutAh.StandardUncertainty, u)
	}
	if c.Verdict != Undecided { // 81.5 % ± 4.6 %
		t.Error(c.Verdict)
	}
	if got := codes(r); !got["below-one-volt"] || !got["from-load"] || r.Resistance != nil || got["no-temperature"] {
		t.Errorf("%v %+v", got, r.Resistance)
	}
	if !near(r.Voltage.BelowOneVoltS, 19800-15300, 1e-6) { // the last row is at 19 800 s
		t.Errorf("%g s below 1.0 V per cell", r.Voltage.BelowOneVoltS)
	}
}

// TestVerdict at the limits, 80 and 60 % (sources differ; both are settings).
func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		share, u float64
		reached  bool
		want     Verdict
	}{
		{85, 5, true, Good}, {math.Nextafter(85, 0), 5, true, Undecided}, {85, 5, false, Good}, {84, 5, false, NotReached},
		{70, 5, true, Worn}, {65, 5, true, Worn}, {75, 5, true, Undecided}, {math.Nextafter(75, 0), 5, true, Worn},
		{64, 5, true, Undecided}, {55, 5, true, Undecided}, {54, 5, true, AtEnd},
	} {
		if got := verdict(c.share, c.u, &Capacity{Reached: c.reached, GoodPct: 80, EndPct: 60}); got != c.want {
			t.Errorf("%g ± %g, reached %t: %s, want %s", c.share, c.u, c.reached, got, c.want)
		}
	}
}

// TestStopExactly: a log kept by hand ends with the stop voltage itself; the float
// above it is not there yet.
func TestStopExactly(t *testing.T) {
	for last, want := range map[float64]bool{10: true, math.Nextafter(10, 11): false, math.Nextafter(10, 9): true} {
		r, err := run(Options{LoadOhm: 10, RatedAh: 3}, []Row{{0, 0, 12, nan}, {0, 3600, 11, nan}, {0, 7200, last, nan}})
		if err != nil || r.Capacity.Reached != want || !near(r.Capacity.OutAh.Value, 2.2, 1e-9) { // (1.15 + 1.05) A·h
			t.Errorf("ends at %g V: %v %+v", last, err, r.Capacity)
		}
	}
}

// TestStopIsNoSag: a motor's start below the stop voltage is not the end, a
// load switched off at the stop voltage is.
func TestStopIsNoSag(t *testing.T) {
	make := func(burstV, burstA float64) []Row {
		var rows []Row
		for i := range 200 {
			r := Row{TimeS: float64(i) / 10, Volts: 11, Amps: 3}
			if i == 100 || i == 101 {
				r.Volts, r.Amps = burstV, burstA
			}
			if i > 101 {
				r.Volts, r.Amps = 11.5, 0
			}
			rows = append(rows, r)
		}
		return rows
	}
	if r, err := run(Options{}, make(9.5, 25)); err != nil || r.Capacity.Reached {
		t.Errorf("a sag ended it: %v %+v", err, r.Capacity)
	}
	if r, err := run(Options{}, make(9.9, 3)); err != nil || !r.Capacity.Reached {
		t.Errorf("the end was not seen: %v %+v", err, r.Capacity)
	}
}

// TestBrownout: a triangle from 10 V to 8 V and back in 4 s is below 9 V for 2 s.
func TestBrownout(t *testing.T) {
	var rows []Row
	for i := range 3 {
		rows = append(rows, Row{TimeS: float64(4 * i), Volts: 10, Amps: nan}, Row{TimeS: float64(4*i + 2), Volts: 8, Amps: nan, Line: i + 1})
	}
	r, err := run(Options{BrownoutV: 9}, rows[:5])
	if err != nil || !near(r.Voltage.BelowBrownoutS, 4, 1e-12) || r.Voltage.Dips != 2 || !near(r.Voltage.LongestDipS, 2, 1e-12) || r.Voltage.LowestV != 8 || r.Voltage.LowestAtS != 2 {
		t.Errorf("%v %+v", err, r.Voltage)
	}
	if r.Charge != nil || r.Resistance != nil || !codes(r)["no-amps"] {
		t.Errorf("%+v", r.Warnings)
	}
}

// TestSlopeTruth: 100 runs of a pack with nothing but 100 mΩ, lingering noise and a
// voltage that falls as it empties. The robust slope and least squares hold the
// truth about as often as 95 % says. The meters' own error is set to nought, for
// it is not drawn here.
func TestSlopeTruth(t *testing.T) {
	const runs = 100
	exact := Options{VoltPct: new(0.0), AmpPct: new(0.0), AmpZeroA: new(0.0)}
	robust, squares, releases, worst := 0, 0, 0, 0.0
	for seed := range uint64(runs) {
		r, err := run(exact, driven(seed, 1500, 0.1, newPack(0.1, 0)))
		if err != nil || r.Resistance == nil || r.Resistance.RobustOhm == nil || r.Resistance.LeastSquaresOhm == nil || r.Resistance.ReleaseOhm == nil {
			t.Fatalf("%v %+v", err, r.Resistance)
		}
		count := func(n *int, e *Estimate) {
			if math.Abs(e.Value-0.1) <= *e.ExpandedUncertainty {
				*n++
			}
		}
		count(&robust, r.Resistance.RobustOhm)
		count(&squares, r.Resistance.LeastSquaresOhm)
		count(&releases, r.Resistance.ReleaseOhm)
		worst = max(worst, math.Abs(r.Resistance.RobustOhm.Value-0.1))
	}
	t.Logf("95 %% intervals that hold the truth: robust %d, least squares %d, release %d of %d; worst robust error %.2g Ω", robust, squares, releases, runs, worst)
	for name, n := range map[string]int{"robust": robust, "least squares": squares, "release": releases} {
		if n < 88 { // 95 less three standard deviations of a count of 100
			t.Errorf("%s: only %d of %d intervals hold the truth", name, n, runs)
		}
	}
	if worst > 0.004 {
		t.Errorf("robust slope off by %g Ω", worst)
	}
}

// TestOneSecond: with a slow part of 24 mΩ and 13 s, one second after a long load the
// voltage has come back by R0·I and 1 − exp(−1/13) of the slow part: in closed
// form. The slope over the run lies between the ohmic part and the sum.
func TestOneSecond(t *testing.T) {
	p := newPack(0.044, 0.024)
	p.fall = 0
	var rows []Row
	for i := range 6000 {
		a := 0.0
		if i/1000%2 == 1 {
			a = 10
		}
		rows = append(rows, Row{TimeS: float64(i) * 0.1, Volts: p.step(a, 0.1), Amps: a})
	}
	r, err := run(Options{}, rows)
	if err != nil {
		t.Fatal(err)
	}
	want := 0.044 + 0.024*(1-math.Exp(-1/13.0))
	if e := r.Resistance.ReleaseOhm; e == nil || !near(e.Value/want, 1, 0.01) || e.Observations != 2 {
		t.Errorf("%+v, want %g", e, want)
	}
	if e := r.Resistance.LeastSquaresOhm; e.Value < 0.044 || e.Value > 0.068 {
		t.Errorf("%+v", e)
	}
}

// TestRobust: one row in fifty is nonsense. Least squares is lost, the robust
// slope is not.
func TestRobust(t *testing.T) {
	rows := driven(7, 3000, 0.1, newPack(0.1, 0))
	for i := 25; i < len(rows); i += 50 {
		rows[i].Volts = 19
	}
	r, err := run(Options{}, rows)
	if err != nil {
		t.Fatal(err)
	}
	if e := r.Resistance.RobustOhm; !near(e.Value, 0.1, 0.005) || math.Abs(r.Resistance.LeastSquaresOhm.Value-0.1) < math.Abs(e.Value-0.1) {
		t.Errorf("robust %+v, least squares %+v", e, r.Resistance.LeastSquaresOhm)
	}
	if n := issueRows(r.Issues, Spike); n < 57 { // a change of current beside one may seem to explain it
		t.Errorf("%d spikes told of 60", n)
	}
}

// TestSign: the same drive with the other sign gives the same results; a
// resistor's log, a charge and a drive in one direction are told apart.
func TestSign(t *testing.T) {
	rows := driven(3, 2000, 0.1, newPack(0.1, 0.02))
	turned := make([]Row, len(rows))
	for i, r := range rows {
		r.Amps = -r.Amps
		turned[i] = r
	}
	a, err := run(Options{}, rows)
	b, err2 := run(Options{}, turned)
	if err != nil || err2 != nil || a.SignTurned || !b.SignTurned || !codes(b)["sign-turned"] {
		t.Fatal(err, err2, a.SignTurned, b.SignTurned)
	}
	if !near(a.Charge.OutAh.Value, b.Charge.OutAh.Value, 1e-12) || !near(a.Resistance.RobustOhm.Value, b.Resistance.RobustOhm.Value, 1e-12) ||
		!near(a.Resistance.ReleaseOhm.Value, b.Resistance.ReleaseOhm.Value, 1e-12) || *a.Curve[5].MaxA != *b.Curve[5].MaxA {
		t.Errorf("%+v %+v", a.Charge, b.Charge)
	}
	for name, c := range map[string]struct {
		volts, amps func(s float64) float64
		turned      bool
	}{
		"resistor, positive": {func(s float64) float64 { return 13 - s/1000 }, func(s float64) float64 { return (13 - s/1000) / 10 }, false},
		"resistor, negative": {func(s float64) float64 { return 13 - s/1000 }, func(s float64) float64 { return -(13 - s/1000) / 10 }, true},
		"charge, negative":   {func(s float64) float64 { return 13 + s/1000 }, func(s float64) float64 { return -1 }, false},
		"charge, positive":   {func(s float64) float64 { return 13 + s/1000 }, func(s float64) float64 { return 1 }, true},
	} {
		var log []Row
		for s := 0.0; s < 1000; s += 10 {
			log = append(log, Row{TimeS: s, Volts: c.volts(s), Amps: c.amps(s)})
		}
		if r, err := run(Options{}, log); err != nil || r.SignTurned != c.turned || r.Resistance != nil {
			t.Errorf("%s: turned %t, %v, %+v", name, r.SignTurned, err, r.Resistance)
		}
	}
}

// TestMoments: NIST's Norris set (StRD, linear least squares; data and certified
// slope 1.00211681802045 from memory, and they agree) in nine stretches merged in any way.
func TestMoments(t *testing.T) {
	y := []float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2}
	x := []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5}
	var s stretches
	for i := range x {
		s.add(x[i], y[i])
	}
	if e, ok := s.leastSquares(); !ok || !near(e.Value, 1.00211681802045, 1e-13) || !near(e.DoF, 8, 0) {
		t.Errorf("%v %+v", ok, e)
	}
}

// TestCurve: nothing is lost by drawing less. Every row's volts lie in a
// bucket, and the least and greatest of the run are there.
func TestCurve(t *testing.T) {
	rows := driven(1, 50_000, 0.02, newPack(0.1, 0.02))
	rows[31_234].Volts = 5
	r, err := run(Options{}, rows)
	if err != nil {
		t.Fatal(err)
	}
	n, low := 0, math.Inf(1)
	for i, b := range r.Curve {
		n += b.Rows
		low = min(low, b.MinV)
		if b.MinV > b.MaxV || *b.MinA > *b.MaxA || i > 0 && b.TimeS <= r.Curve[i-1].TimeS {
			t.Fatalf("%+v", b)
		}
	}
	if n != r.Rows || low != 5 || len(r.Curve) < mostBuckets/2 || len(r.Curve) > mostBuckets {
		t.Errorf("%d rows in %d buckets, lowest %g", n, len(r.Curve), low)
	}
}

// TestEstimateIsMeasures: uncertainties go through package measure.
func TestEstimateIsMeasures(t *testing.T) {
	c := measure.Combined{StdUnc: 2, DoF: 4}
	if e := estimate(1, 0.5, c, 3); *e.StandardUncertainty != 1 || !near(*e.ExpandedUncertainty, 2.776445105198, 1e-9) { // t for 4 degrees, printed tables 2.78
		t.Errorf("%+v", e)
	}
}
