package trend

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"packwright/internal/loadtest"
	"packwright/internal/problem"
)

const autumn = int64(1_790_000_000_000) // September 2026, invented

func ptr[T any](v T) *T { return &v }

// weekly are comparable tests a week apart, in milliohm.
func weekly(mohm ...float64) []Test {
	tests := make([]Test, len(mohm))
	for i, m := range mohm {
		tests[i] = Test{
			ID: fmt.Sprintf("t%02d", i), AtMS: autumn + int64(i)*7*dayMS, Method: loadtest.KnownLoad,
			ResistanceOhm: m / 1000, OwnStdUncOhm: 0.0005, CommonStdUncOhm: 0.001,
			LoadOhm: 2.5, ReadAfterS: ptr(5.0), TemperatureC: ptr(21.0), Charge: loadtest.ChargeFull,
		}
	}
	return tests
}

func mustAnalyse(t testing.TB, tests []Test, o Options) Analysis {
	t.Helper()
	a, err := Analyse(tests, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestOutcomes(t *testing.T) {
	rising := []float64{80, 81.5, 82, 84, 85, 86, 88, 89.5, 90, 92}
	for _, c := range []struct {
		what    string
		mohm    []float64
		limit   float64
		outcome Outcome
		text    string // part of it
		missing string // part of it
	}{
		{"none", nil, 0.1, TooFew, "0 test days of the 5", "5 more tests, each on a day of its own, the pack full"},
		{"one", rising[:1], 0.1, TooFew, "1 test day of the 5", "4 more tests, each on a day of its own, the pack full, a load near 2.5 Ω, read after 5 s"},
		{"two", rising[:2], 0.1, TooFew, "2 test days", "3 more tests"},
		{"four", rising[:4], 0.1, TooFew, "4 test days", "1 more test,"},
		{"few and above", []float64{90, 101}, 0.1, AlreadyAbove, "the latest test is already above 0.1 Ω", "3 more tests"},
		{"few and at the limit", []float64{90, 100}, 0.1, TooFew, "", ""},
		{"five, steadily", rising[:5], 0.1, BeyondHorizon, "within 28 days", "longer span"},
		{"five, not quite", []float64{80, 82, 81, 84, 86}, 0.1, NoTrend, "no trend to speak of in 5 test days", "beyond chance"},
		{"flat", []float64{90, 91, 89, 90, 92, 90, 89, 91}, 0.1, NoTrend, "no trend", "beyond chance"},
		{"sure but small", []float64{90, 90.4, 90.8, 91.2, 91.6, 92, 92.4, 92.8}, 0.1, NoTrend, "3.1 % is within what one pack repeats", ""},
		{"falling", []float64{92, 90, 89.5, 88, 86, 85, 84, 82}, 0.1, Falling, "falls, by", ""},
		{"crossing", rising, 0.1, Crossing, "days, with 90 % probability", ""},
		{"beyond", rising, 0.15, BeyondHorizon, "not cross 0.15 Ω within 63 days", "longer span"},
		{"above", rising, 0.09, AlreadyAbove, "the line through 10 test days is already above 0.09 Ω", ""},
		{"no limit", rising, 0, Rising, "rises by", ""},
	} {
		a := mustAnalyse(t, weekly(c.mohm...), Options{LimitOhm: c.limit})
		if a.Outcome != c.outcome || !strings.Contains(a.Text, c.text) || !strings.Contains(strings.Join(a.Missing, "; "), c.missing) {
			t.Errorf("%s: %s: %q; missing %q", c.what, a.Outcome, a.Text, a.Missing)
		}
		if f := a.Forecast; (f == nil) == (c.outcome == Crossing || c.outcome == BeyondHorizon || c.outcome == NoTrend || c.what == "above") {
			t.Errorf("%s: forecast %+v", c.what, f)
		}
		if f := a.Forecast; f != nil && (f.LikelyMS == nil) != (c.outcome != Crossing) {
			t.Errorf("%s: dates %+v", c.what, f)
		}
	}
}

// The dates of a forecast are where the probability says so, within the horizon.
func TestForecastDates(t *testing.T) {
	a := mustAnalyse(t, weekly(80, 81.5, 82, 84, 85, 86, 88, 89.5, 90, 92), Options{LimitOhm: 0.1})
	f := a.Forecast
	last := autumn + 9*7*dayMS
	if f.HorizonMS != last+9*7*dayMS {
		t.Errorf("horizon %d days after the latest test, want the span of 63", (f.HorizonMS-last)/dayMS)
	}
	if !(last < *f.EarliestMS && *f.EarliestMS < *f.LikelyMS && *f.LikelyMS < *f.LatestMS && *f.LatestMS <= f.HorizonMS) {
		t.Errorf("dates are not in order: %+v", f)
	}
	for _, d := range []struct {
		ms *int64
		p  float64
	}{{f.EarliestMS, 0.05}, {f.LikelyMS, 0.5}, {f.LatestMS, 0.95}} {
		p, ok := a.ProbabilityAbove(0.1, *d.ms)
		if !ok {
			t.Fatal("no probability within the horizon")
		}
		within(t, "probability at a date", p, d.p, 1e-3) // to a minute of time
	}
	within(t, "days the set-up moves it by", *f.CommonShiftDays, 1.959963985*0.001/a.Line.Slope, 1e-6)
	for _, ms := range []int64{autumn - 1, f.HorizonMS + 1} {
		if _, ok := a.ProbabilityAbove(0.1, ms); ok {
			t.Errorf("a probability outside the horizon, at %d", ms)
		}
	}
	// Two years of tests are carried on for one.
	two := weekly(80, 82, 84, 86, 88, 90)
	for i := range two {
		two[i].AtMS = autumn + int64(i)*146*dayMS
	}
	if a := mustAnalyse(t, two, Options{LimitOhm: 0.2}); a.Forecast.HorizonMS != autumn+(730+365)*dayMS {
		t.Error("the horizon is more than a year")
	}
}

// Fieller's limits in closed form: (limit − a − b·d)² = k²·(u_a² + d²·u_b²), with
// Student's t for 8 degrees of freedom and 95 % on one side, 1.860 (JCGM 100 table
// G.2 at 90 %, a published table).
func TestForecastIsFieller(t *testing.T) {
	a := mustAnalyse(t, weekly(80, 81.5, 82, 84, 85, 86, 88, 89.5, 90, 92), Options{LimitOhm: 0.1})
	l, k := a.Line, 1.859548
	h, q := 0.1-l.CentreY, l.Slope*l.Slope-k*k*l.SlopeStdUnc*l.SlopeStdUnc
	root := k * math.Sqrt(l.SlopeStdUnc*l.SlopeStdUnc*h*h+q*l.CentreUnc*l.CentreUnc)
	day := func(ms *int64) float64 { return a.Series.dayOf(*ms) - l.CentreX }
	within(t, "earliest", day(a.Forecast.EarliestMS), (h*l.Slope-root)/q, 2e-3)
	within(t, "latest", day(a.Forecast.LatestMS), (h*l.Slope+root)/q, 2e-3)
}

// What the phone asks: order, copies of the answer and the clock's zone are no
// part of it.
func TestAnalyseIsEquivariant(t *testing.T) {
	compare := cmp.AllowUnexported(Series{}, Occasion{})
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 30).Draw(t, "n")
		tests := weekly(rapid.SliceOfN(rapid.Float64Range(60, 140), n, n).Draw(t, "mohm")...)
		for i := range tests {
			tests[i].AtMS += rapid.Int64Range(0, 14*dayMS).Draw(t, "ms")
			tests[i].TemperatureC = ptr(rapid.Float64Range(5, 35).Draw(t, "temperature"))
			tests[i].OwnStdUncOhm = rapid.SampledFrom([]float64{0.0005, 0.003}).Draw(t, "own")
			tests[i].LoadOhm = rapid.SampledFrom([]float64{2.5, 2.5, 2.5, 10}).Draw(t, "load")
		}
		o := Options{LimitOhm: 0.1, To20C: rapid.Bool().Draw(t, "to 20"), Working: true}
		a, err := Analyse(tests, o)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Analyse(rapid.Permutation(tests).Draw(t, "order"), o)
		if err != nil {
			t.Fatal(err)
		}
		nan := cmp.Comparer(func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) })
		if d := cmp.Diff(a, b, compare, nan); d != "" {
			t.Fatalf("another order:\n%s", d)
		}
		seen := len(a.Series.Aside)
		for _, oc := range a.Series.Occasions {
			seen += len(oc.Tests)
		}
		if seen != n {
			t.Fatalf("%d tests in, %d accounted for", n, seen)
		}
		// All times an hour later, as on a clock in another zone.
		later := slices.Clone(tests)
		for i := range later {
			later[i].AtMS += 3_600_000
		}
		c, err := Analyse(later, o)
		if err != nil {
			t.Fatal(err)
		}
		if c.Outcome != a.Outcome || c.Text != a.Text || len(a.Series.Occasions) > 4 && *c.Line != *a.Line {
			t.Fatalf("an hour later: %s %q, not %s %q", c.Outcome, c.Text, a.Outcome, a.Text)
		}
		for _, s := range a.Working {
			if strings.Contains(s.Label+s.Formula+s.Numbers+s.Result, "NaN") {
				t.Fatalf("working: %+v", s)
			}
		}
	})
}

func TestRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for what, spoil := range map[string]func(*Test){
		"resistance NaN":      func(t *Test) { t.ResistanceOhm = nan },
		"resistance 0":        func(t *Test) { t.ResistanceOhm = 0 },
		"resistance negative": func(t *Test) { t.ResistanceOhm = -0.1 },
		"resistance infinite": func(t *Test) { t.ResistanceOhm = inf },
		"resistance absurd":   func(t *Test) { t.ResistanceOhm = 1001 },
		"own NaN":             func(t *Test) { t.OwnStdUncOhm = nan },
		"own negative":        func(t *Test) { t.OwnStdUncOhm = -1 },
		"common NaN":          func(t *Test) { t.CommonStdUncOhm = nan },
		"before 1970":         func(t *Test) { t.AtMS = -1 },
		"after 9999":          func(t *Test) { t.AtMS = lastMS + 1 },
		"load NaN":            func(t *Test) { t.LoadOhm = nan },
		"frequency NaN":       func(t *Test) { t.FrequencyHz = nan },
		"second NaN":          func(t *Test) { t.ReadAfterS = &nan },
		"second negative":     func(t *Test) { t.ReadAfterS = ptr(-1.0) },
		"temperature NaN":     func(t *Test) { t.TemperatureC = &nan },
		"temperature absurd":  func(t *Test) { t.TemperatureC = ptr(200.0) },
	} {
		tests := weekly(100, 101, 102)
		spoil(&tests[1])
		_, err := Analyse(tests, Options{})
		if p, ok := problem.As(err); !ok || p.Hint == "" || p.Field == "" {
			t.Errorf("%s: %v", what, err)
		}
		tests[1].Excluded = "voided" // then nobody looks at its numbers
		if _, err := Analyse(tests, Options{}); err != nil {
			t.Errorf("%s, excluded: %v", what, err)
		}
	}
	for what, o := range map[string]Options{
		"limit NaN":      {LimitOhm: nan},
		"limit negative": {LimitOhm: -0.1},
		"limit absurd":   {LimitOhm: 1001},
		"tempco NaN":     {Tempco: Temperature{PerK: nan}},
		"tempco absurd":  {Tempco: Temperature{PerK: 2}},
		"like no test":   {Like: "t99"},
	} {
		if _, ok := problem.As(func() error { _, err := Analyse(weekly(100), o); return err }()); !ok {
			t.Errorf("%s: not refused", what)
		}
	}
	if p, ok := problem.As(func() error { _, err := Analyse(make([]Test, MaxTests+1), Options{}); return err }()); !ok || p.Kind != problem.TooLarge {
		t.Error("too many tests are not refused as such")
	}
}

// Readings that repeat to the last digit still leave the uncertainty of a digit.
func TestEqualReadings(t *testing.T) {
	a := mustAnalyse(t, weekly(90, 90, 90, 90, 90, 90), Options{LimitOhm: 0.1})
	if a.Outcome != NoTrend || a.Line.SlopeStdUnc <= 0 || a.Line.SlopeLow >= 0 || a.Line.SlopeHigh <= 0 {
		t.Errorf("%s, slope %g (%g to %g)", a.Outcome, a.Line.Slope, a.Line.SlopeLow, a.Line.SlopeHigh)
	}
}

func TestWorking(t *testing.T) {
	a := mustAnalyse(t, weekly(80, 81.5, 82, 84, 85, 86, 88, 89.5, 90, 92), Options{LimitOhm: 0.1, Working: true})
	var text strings.Builder
	for _, s := range a.Working {
		if s.Label == "" || s.Formula == "" || s.Result == "" {
			t.Errorf("a line with a gap: %+v", s)
		}
		fmt.Fprintf(&text, "%s | %s | %s | %s\n", s.Label, s.Formula, s.Numbers, s.Result)
	}
	for _, want := range []string{"45 slopes | 0.19 mΩ/d", "45 pairs | 45, τ = 1", "n = 10 | below 0.01 %", "limit 0.1 Ω, 8 degrees of freedom", "crossed with 95 %"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the working lacks %q:\n%s", want, text.String())
		}
	}
}
