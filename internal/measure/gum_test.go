package measure

import (
	"math"
	"testing"
)

// near says whether got is want within a relative tolerance; want 0 or not a
// number must be met exactly.
func near(got, want, relative float64) bool {
	if math.IsNaN(want) || math.IsInf(want, 0) || want == 0 {
		return got == want || math.IsNaN(got) && math.IsNaN(want)
	}
	return math.Abs(got-want) <= relative*math.Abs(want)
}

// TestNear: hand-written equality is code too.
func TestNear(t *testing.T) {
	cases := []struct {
		got, want float64
		same      bool
	}{
		{1, 1, true}, {1.0009, 1, true}, {1.0011, 1, false}, {-1, 1, false}, {0, 0, true}, {1e-12, 0, false},
		{math.NaN(), math.NaN(), true}, {1, math.NaN(), false}, {math.NaN(), 1, false}, {math.Inf(1), math.Inf(1), true},
	}
	for _, c := range cases {
		if near(c.got, c.want, 1e-3) != c.same {
			t.Errorf("near(%g, %g) is not %t", c.got, c.want, c.same)
		}
	}
}

func check(t *testing.T, name string, got, want, relative float64) {
	t.Helper()
	if !near(got, want, relative) {
		t.Errorf("%s = %.12g, want %.12g", name, got, want)
	}
}

// The readings of JCGM 100:2008 table H.2 (as stored in public test files of
// two independent uncertainty programs).
var (
	h2Volt   = []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	h2Ampere = []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	h2Phase  = []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
)

// impedance is the measurement of H.2: R = V/I·cos φ, X = V/I·sin φ, Z = V/I,
// as sensitivities to V, I and φ.
func impedance(v, i, phi float64) (values [3]float64, sensitivities [3][3]float64) {
	z, c, s := v/i, math.Cos(phi), math.Sin(phi)
	return [3]float64{z * c, z * s, z}, [3][3]float64{
		{c / i, -z * c / i, -z * s},
		{s / i, -z * s / i, z * c},
		{1 / i, -z / i, 0},
	}
}

// TestH2FromReadings is JCGM 100:2008 example H.2 from its raw readings. The
// printed results (table H.3: 127.732 Ω, 0.071 Ω and so on) are met by full
// digits recomputed independently.
func TestH2FromReadings(t *testing.T) {
	v, i, phi := Mean(h2Volt), Mean(h2Ampere), Mean(h2Phase)
	check(t, "V", v.Value, 4.9990, 1e-12)
	check(t, "u(V)", v.StdUnc, 0.00320936131, 1e-8)
	check(t, "I", i.Value, 19.6610e-3, 1e-12)
	check(t, "u(I)", i.StdUnc, 9.47100839e-6, 1e-8)
	check(t, "φ", phi.Value, 1.04446, 1e-12)
	check(t, "u(φ)", phi.StdUnc, 0.000752063827, 1e-8)
	if v.DoF != 4 {
		t.Errorf("%g degrees of freedom, want 4", v.DoF)
	}
	r := func(a, b []float64) float64 {
		return covariance(a, b) / math.Sqrt(covariance(a, a)*covariance(b, b))
	}
	check(t, "r(V,I)", r(h2Volt, h2Ampere), -0.355311220, 1e-8)
	check(t, "r(V,φ)", r(h2Volt, h2Phase), 0.857624211, 1e-8)
	check(t, "r(I,φ)", r(h2Ampere, h2Phase), -0.645111218, 1e-8)

	wantValue := [3]float64{127.73216992810, 219.84651191264, 254.25970194802}
	wantUnc := [3]float64{0.07107141, 0.29558168, 0.23633613}
	values, sensitivities := impedance(v.Value, i.Value, phi.Value)
	for k, name := range []string{"R", "X", "Z"} {
		c := Scatter(sensitivities[k][:], h2Volt, h2Ampere, h2Phase)
		check(t, name, values[k], wantValue[k], 1e-12)
		check(t, "u("+name+")", c.StdUnc, wantUnc[k], 1e-7)
		check(t, "degrees of freedom of "+name, c.DoF, 4, 1e-12) // one series: five sets of readings
	}
}

// TestH2WithoutCorrelation: the same example with the correlations left out, from
// the rounded inputs, must be wrong, and by how much (recomputed independently).
func TestH2WithoutCorrelation(t *testing.T) {
	u := [3]float64{0.0032, 9.5e-6, 0.00075}
	want := [3]float64{0.19412, 0.20067, 0.20392}
	_, sensitivities := impedance(4.999, 0.019661, 1.04446)
	for k, name := range []string{"R", "X", "Z"} {
		inputs := make([]Component, 3)
		for j := range inputs {
			inputs[j] = Component{sensitivities[k][j], u[j], 4}
		}
		wrong := Combine(inputs)
		check(t, "u("+name+") without correlation", wrong.StdUnc, want[k], 3e-5)
		if right := Scatter(sensitivities[k][:], h2Volt, h2Ampere, h2Phase); near(wrong.StdUnc, right.StdUnc, 0.1) {
			t.Errorf("u(%s) hardly depends on the correlations", name)
		}
	}
}

// TestH2SecondApproach is H.2.4: each set of readings alone, then the mean.
// For a linear equation it is the first approach; here it nearly is (means from
// memory of the document, recomputed).
func TestH2SecondApproach(t *testing.T) {
	var sets [3][]float64
	for k := range h2Volt {
		values, _ := impedance(h2Volt[k], h2Ampere[k], h2Phase[k])
		for j := range sets {
			sets[j] = append(sets[j], values[j])
		}
	}
	want := [3]Estimate{{127.73163, 0.071274, 4}, {219.84689, 0.295489, 4}, {254.26005, 0.236248, 4}}
	for j, name := range []string{"R", "X", "Z"} {
		e := Mean(sets[j])
		check(t, name, e.Value, want[j].Value, 1e-7)
		check(t, "u("+name+")", e.StdUnc, want[j].StdUnc, 1e-5)
		check(t, "degrees of freedom of "+name, e.DoF, want[j].DoF, 0)
	}
}

// The readings of JCGM 100:2008 table H.6: thermometer readings and observed
// corrections, °C (as stored in public test files of two independent
// uncertainty programs).
var (
	h3Reading    = []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	h3Correction = []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
)

// fitLine is the least-squares line y = y1 + y2·(x − x0) with the correlation of
// its coefficients and the scatter s about it (JCGM 100 H.3.3, equations H.13a to
// H.13h).
func fitLine(x, y []float64, x0 float64) (y1, y2 Estimate, r, s float64) {
	n, sx, sxx, sy, sxy, residual := float64(len(x)), 0.0, 0.0, 0.0, 0.0, 0.0
	for i := range x {
		d := x[i] - x0
		sx, sxx, sy, sxy = sx+d, sxx+d*d, sy+y[i], sxy+d*y[i]
	}
	det := n*sxx - sx*sx
	y1 = Estimate{Value: (sy*sxx - sxy*sx) / det, DoF: n - 2}
	y2 = Estimate{Value: (n*sxy - sy*sx) / det, DoF: n - 2}
	for i := range x {
		residual += Square(y[i] - y1.Value - y2.Value*(x[i]-x0))
	}
	s = math.Sqrt(residual / (n - 2))
	y1.StdUnc, y2.StdUnc = s*math.Sqrt(sxx/det), s*math.Sqrt(n/det)
	return y1, y2, -sx / math.Sqrt(n*sxx), s
}

// weightsAt is how much each y counts in the line's value at x = at.
func weightsAt(x []float64, at float64) []float64 {
	weights, center, sxx := make([]float64, len(x)), mean(x), 0.0
	for i := range x {
		sxx += Square(x[i] - center)
	}
	for i := range x {
		weights[i] = 1/float64(len(x)) + (at-center)*(x[i]-center)/sxx
	}
	return weights
}

// TestH3 is JCGM 100:2008 example H.3: the correction of a thermometer at
// 30 °C from a line fitted to the published readings, b = y1 + y2·(t − 20 °C),
// whose coefficients are strongly correlated. Published: y1 = −0.1712 °C,
// s = 0.0029 °C; y2 = 0.00218, s = 0.00067; r = −0.930; b(30 °C) = −0.1494 °C,
// u = 0.0041 °C, ν = 9. The long figures are the same, calculated in full.
func TestH3(t *testing.T) {
	y1, y2, r, s := fitLine(h3Reading, h3Correction, 20)
	check(t, "y1", y1.Value, -0.171203790131350, 1e-10)
	check(t, "s(y1)", y1.StdUnc, 0.00287759784, 1e-8)
	check(t, "y2", y2.Value, 0.00218269773988729, 1e-10)
	check(t, "s(y2)", y2.StdUnc, 0.000667938773, 1e-8)
	check(t, "r(y1,y2)", r, -0.930429603, 1e-8)
	check(t, "b(30 °C)", y1.Value+10*y2.Value, -0.149376812732, 1e-9)
	// The prediction is a sum of the readings, each with a weight and with the same
	// s: independent components, so no correlation is left to account for.
	var parts []Component
	for _, weight := range weightsAt(h3Reading, 30) {
		parts = append(parts, Component{weight, s, math.Inf(1)})
	}
	u := Combine(parts).StdUnc
	check(t, "u(b)", u, 0.00413859575, 1e-7)
	check(t, "u(b), as printed", math.Round(u*1e4)/1e4, 0.0041, 1e-12)
	check(t, "degrees of freedom", y1.DoF, 9, 0)
	inputs := []Component{{1, y1.StdUnc, y1.DoF}, {10, y2.StdUnc, y2.DoF}}
	check(t, "u(b) without correlation", Combine(inputs).StdUnc, math.Hypot(0.00287759784, 0.00667938773), 1e-9)
	// H.3.6: a systematic 0.005 °C on y1.
	check(t, "u(y1) with the systematic part", Combine([]Component{{1, y1.StdUnc, 9}, {1, 0.005, math.Inf(1)}}).StdUnc, 0.00576893138, 1e-8)
}

// TestH16 is the Welch–Satterthwaite example of H.1.6: 16.7, rounded down to
// 16 in print. The published value comes from u² = 1002 nm² (H.1.5, from
// memory); the four listed contributions alone give 16.6.
func TestH16(t *testing.T) {
	parts := []Component{{1, 25, 18}, {1, 9.7, 25.6}, {1, 2.9, 50}, {1, 16.6, 2}}
	c := Combine(parts)
	check(t, "u in nm, as printed", math.Round(c.StdUnc), 32, 0)
	// Every published term is in the denominator; scaling by (1002/u²)² gives
	// the published degrees of freedom exactly.
	check(t, "ν as published", c.DoF*Square(1002/Square(c.StdUnc)), 16.73, 3e-4)
}

// TestWelchSatterthwaite: example G.4.1 (a product of three), whose printed 19
// comes from 18.9987, and a vector printed by an independent metrology package.
func TestWelchSatterthwaite(t *testing.T) {
	c := Combine([]Component{{1, 0.25, 9}, {1, 0.57, 4}, {1, 0.82, 14}})
	check(t, "G.4.1: u in %", c.StdUnc, 1.029466, 1e-6)
	check(t, "G.4.1: ν", c.DoF, 18.9987, 1e-5)
	check(t, "G.4.1: t95, as printed", math.Round(CoverageFactor(c.DoF)*100)/100, 2.09, 0)
	u, _ := Expand(c)
	check(t, "G.4.1: U95 in %, as printed", math.Round(u*10)/10, 2.2, 0)

	c = Combine([]Component{{1, 0.1, math.Inf(1)}, {2, 0.3, 6}, {3, 0.2, 8}, {0.5, 1.1, 3}})
	check(t, "vector: u", c.StdUnc, 1.016120, 1e-6)
	check(t, "vector: ν", c.DoF, 15.608, 1e-4)
}

// TestSmallExamples are one-line examples of JCGM 100:2008 (numbers from
// memory of the document, recomputed) and of EA-4/02 S9.
func TestSmallExamples(t *testing.T) {
	// 4.4.3: twenty thermometer readings.
	e := Mean([]float64{96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
		100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72})
	check(t, "4.4.3: mean", e.Value, 100.145, 1e-12)
	check(t, "4.4.3: s/√n", e.StdUnc, 0.332915747, 1e-8)
	check(t, "4.4.3: ν", e.DoF, 19, 0)

	// 4.4.5: limits 96 to 104.
	check(t, "4.4.5: u", Rectangular(100, 4).StdUnc, 2.309401, 1e-6)

	// 4.3.7 and 5.1.5: a digital voltmeter, 14·10⁻⁶ of reading + 2·10⁻⁶ of range.
	a := Rectangular(0, 14e-6*0.928571+2e-6*1)
	check(t, "4.3.7: u in µV", a.StdUnc*1e6, 8.66025, 1e-5)
	check(t, "5.1.5: u in µV, as printed", math.Round(Combine([]Component{{1, a.StdUnc, a.DoF}, {1, 12e-6, 9}}).StdUnc*1e6), 15, 0)

	// 5.2.2: ten resistors of 1000 Ω in series, all from one standard.
	series := make([]Component, 10)
	for i := range series {
		series[i] = Component{1, 0.1, math.Inf(1)}
	}
	check(t, "5.2.2: u in Ω", Combine([]Component{{10, 0.1, math.Inf(1)}}).StdUnc, 1, 1e-12) // one error, ten times
	check(t, "5.2.2: u in Ω, wrongly uncorrelated", Combine(series).StdUnc, 0.3162, 1e-4)

	// EA-4/02 S9: hand-held multimeter at 100 V; resolution 0.1 V, hence ±0.05 V
	// (half-widths from memory), the calibrator ±0.011 V and 0.001 V.
	c := Combine([]Component{{-1, 0.001, math.Inf(1)}, {1, Rectangular(0, 0.05).StdUnc, math.Inf(1)}, {-1, Rectangular(0, 0.011).StdUnc, math.Inf(1)}})
	check(t, "S9: u in V, as printed", math.Round(c.StdUnc*1000)/1000, 0.030, 1e-12)
}

// TestMeanOfNumAcc2: the NIST StRD set NumAcc2, 1001 values of which the mean is
// 1.2 and the standard deviation 0.1, both certified as exact.
func TestMeanOfNumAcc2(t *testing.T) {
	readings := []float64{1.2}
	for range 500 {
		readings = append(readings, 1.1, 1.3)
	}
	m := Mean(readings)
	if math.Abs(m.Value-1.2) > 1e-14*1.2 || math.Abs(m.StdUnc*math.Sqrt(1001)-0.1) > 1e-12*0.1 || m.DoF != 1000 {
		t.Errorf("mean %.17g, standard deviation %.17g, %g degrees of freedom", m.Value, m.StdUnc*math.Sqrt(1001), m.DoF)
	}
}
