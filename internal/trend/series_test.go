package trend

import (
	"math"
	"strings"
	"testing"

	"packwright/internal/edge"
	"packwright/internal/loadtest"
)

// Every reason for which a test is not compared, in words, and the rest stays.
func TestAside(t *testing.T) {
	for what, c := range map[string]struct {
		spoil  func(*Test)
		o      Options
		reason string // empty: it compares
	}{
		"as the others":      {func(*Test) {}, Options{}, ""},
		"voided":             {func(t *Test) { t.Excluded = "voided by the tester" }, Options{}, "voided by the tester"},
		"measured current":   {func(t *Test) { t.Method = loadtest.MeasuredCurrent }, Options{}, ""},
		"a.c.":               {func(t *Test) { t.Method, t.LoadOhm, t.ReadAfterS = loadtest.DirectAC, 0, nil }, Options{}, "another kind of test than a.c. readings"},
		"instrument d.c.":    {func(t *Test) { t.Method, t.LoadOhm, t.ReadAfterS = loadtest.DirectDC, 0, nil }, Options{}, "another kind of test than d.c. readings"},
		"unknown method":     {func(t *Test) { t.Method = "by-ear" }, Options{}, "method is not known"},
		"other load":         {func(t *Test) { t.LoadOhm = 10 }, Options{}, "load of 10 Ω is more than 20 % off the series' 2.5 Ω"},
		"later second":       {func(t *Test) { t.ReadAfterS = ptr(15.0) }, Options{}, "read after 15 s, the series after 5 s"},
		"no second":          {func(t *Test) { t.ReadAfterS = nil }, Options{}, "reading second is not recorded"},
		"half full":          {func(t *Test) { t.Charge = loadtest.ChargePartial }, Options{}, "not full"},
		"charge unknown":     {func(t *Test) { t.Charge = loadtest.ChargeUnknown }, Options{}, "not recorded that the pack was full"},
		"charge not said":    {func(t *Test) { t.Charge = "" }, Options{}, "not recorded that the pack was full"},
		"before the repair":  {func(*Test) {}, Options{SinceMS: autumn + 7*dayMS + 1}, "before the new baseline"},
		"no temperature":     {func(t *Test) { t.TemperatureC = nil }, Options{To20C: true}, "temperature is not recorded"},
		"none needed":        {func(t *Test) { t.TemperatureC = nil }, Options{}, ""},
		"too cold to bring":  {func(t *Test) { t.TemperatureC = ptr(-5.0) }, Options{To20C: true}, "for 0 to 40 °C"},
		"cold and not asked": {func(t *Test) { t.TemperatureC = ptr(-5.0) }, Options{}, ""},
	} {
		tests := weekly(90, 91, 92, 93, 94, 95)
		c.spoil(&tests[1])
		a := mustAnalyse(t, tests, c.o)
		var reason string
		for _, aside := range a.Series.Aside {
			if aside.Test == "t01" {
				reason = aside.Reason
			}
		}
		if c.reason == "" && reason != "" || !strings.Contains(reason, c.reason) {
			t.Errorf("%s: %q", what, reason)
		}
	}
}

func TestEdgesOfComparison(t *testing.T) {
	alone := func(set func(*Test, float64)) func(float64) bool {
		return func(v float64) bool {
			tests := weekly(90, 91, 92, 93)
			set(&tests[3], v)
			return len(mustAnalyse(t, tests, Options{To20C: true, Like: "t00"}).Series.Aside) > 0
		}
	}
	load := alone(func(t *Test, v float64) { t.LoadOhm = v })
	second := alone(func(t *Test, v float64) { t.ReadAfterS = &v })
	edge.Check(t, append(append(append(
		edge.Range("load", 2, 3, load),
		edge.Range("second", 4, 6, second)...),
		edge.Range("temperature brought to 20 °C", 0, 40, alone(func(t *Test, v float64) { t.TemperatureC = &v }))...),
		edge.Range("second of an early reading", 1.5, 2.5, func(v float64) bool {
			tests := weekly(90, 91, 92, 93)
			for i := range tests {
				tests[i].ReadAfterS = ptr(2.0)
			}
			tests[3].ReadAfterS = &v
			return len(mustAnalyse(t, tests, Options{Like: "t00"}).Series.Aside) > 0
		})...))
}

// The commonest set-up leads, d.c. before a.c.; the latest among equals; or the
// one that is asked for.
func TestCommonestSetUp(t *testing.T) {
	ohms := func(loads ...float64) []Test {
		tests := weekly(make([]float64, len(loads))...)
		for i := range tests {
			tests[i].ResistanceOhm, tests[i].LoadOhm = 0.1, loads[i]
		}
		return tests
	}
	for _, c := range []struct {
		loads []float64
		like  string
		want  float64
	}{
		{[]float64{2.5, 2.5, 10}, "", 2.5},
		{[]float64{2.5, 10, 10}, "", 10},
		{[]float64{2.5, 2.5, 10, 10}, "", 10},
		{[]float64{10, 10, 2.5, 2.5}, "", 2.5},
		{[]float64{2.5, 2.5, 10}, "t02", 10},
		{[]float64{8, 9.6, 11.5, 2.5}, "", 9.6}, // 8 and 11.5 are both near 9.6 only
	} {
		if s := mustAnalyse(t, ohms(c.loads...), Options{Like: c.like}).Series; s.LoadOhm != c.want {
			t.Errorf("of %v, like %q: %g", c.loads, c.like, s.LoadOhm)
		}
	}
	tests := weekly(60, 60, 60, 100)
	for i := range tests[:3] {
		tests[i].Method, tests[i].LoadOhm, tests[i].ReadAfterS, tests[i].FrequencyHz = loadtest.DirectAC, 0, nil, 1000
	}
	if s := mustAnalyse(t, tests, Options{LimitOhm: 0.1}).Series; s.Family != LoadTests {
		t.Errorf("three a.c. readings lead over a load test: %s", s.Family)
	}
	a := mustAnalyse(t, tests[:3], Options{LimitOhm: 0.05})
	if a.Series.Family != InstrumentAC || a.Outcome != TooFew || len(a.Warnings) == 0 || a.Warnings[0].Code != ACSeries {
		t.Errorf("a.c. alone: %s, %s, %+v", a.Series.Family, a.Outcome, a.Warnings)
	}
	if tests[0].Charge = loadtest.ChargePartial; true {
		if _, err := Analyse(tests, Options{Like: "t00"}); err == nil {
			t.Error("a test that is unfit leads a series")
		}
	}
}

// An a.c. series has a trend, but no date: the limit is a d.c. one.
func TestACHasNoForecast(t *testing.T) {
	tests := weekly(50, 52, 54, 56, 58, 60)
	for i := range tests {
		tests[i].Method, tests[i].LoadOhm, tests[i].ReadAfterS, tests[i].FrequencyHz = loadtest.DirectAC, 0, nil, 1000
	}
	a := mustAnalyse(t, tests, Options{LimitOhm: 0.055})
	if _, ok := a.ProbabilityAbove(0.055, tests[5].AtMS); a.Outcome != Rising || a.Forecast != nil || ok {
		t.Errorf("%s, %+v", a.Outcome, a.Forecast)
	}
}

// Tests of one day are one occasion, with their median.
func TestOccasions(t *testing.T) {
	tests := weekly(90, 91, 92, 93, 94)
	again := tests[2]
	again.ID, again.AtMS, again.ResistanceOhm = "t02b", again.AtMS+3_600_000, 0.093
	third := tests[2]
	third.ID, third.ResistanceOhm = "t02c", 0.200 // at the same millisecond
	s := mustAnalyse(t, append(tests, again, third), Options{}).Series
	if len(s.Occasions) != 5 || len(s.Occasions[2].Tests) != 3 || s.Occasions[2].Ohm != 0.093 {
		t.Fatalf("%+v", s.Occasions)
	}
	if want := tests[2].AtMS + 1_200_000; s.Occasions[2].AtMS != want {
		t.Errorf("at %d, want the mean, %d", s.Occasions[2].AtMS, want)
	}
	for _, c := range []struct {
		hours float64
		want  int
	}{{11.99, 1}, {12, 2}} {
		two := weekly(90, 91)
		two[1].AtMS = two[0].AtMS + int64(c.hours*3_600_000)
		if s := mustAnalyse(t, two, Options{}).Series; len(s.Occasions) != c.want {
			t.Errorf("%g h apart: %d occasions", c.hours, len(s.Occasions))
		}
	}
	same := weekly(90, 91, 92, 93, 94, 95)
	for i := range same {
		same[i].AtMS = autumn
	}
	if a := mustAnalyse(t, same, Options{LimitOhm: 0.1}); a.Outcome != TooFew || len(a.Series.Occasions) != 1 {
		t.Errorf("six tests at once: %s", a.Text)
	}
}

// The own part is what scatters; both parts together are the result's.
func TestFromLoadTest(t *testing.T) {
	meter := loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}
	lt := loadtest.Test{
		Method: loadtest.KnownLoad, OpenV: []float64{12.84, 12.84, 12.83}, LoadedV: []float64{12.31, 12.30, 12.31},
		LoadOhm: 2.5, LeadOhm: 0.01, Meter: meter, ReadAfterS: ptr(5.0), TemperatureC: ptr(21.0), Charge: loadtest.ChargeFull,
	}
	r, err := loadtest.Compute(lt, loadtest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := FromLoadTest("a", autumn, &lt, &r)
	within(t, "u", math.Hypot(got.OwnStdUncOhm, got.CommonStdUncOhm), r.StandardUncertaintyOhm, 1e-15)
	within(t, "load", got.LoadOhm, 2.51, 1e-12)
	tolerance := (12.84*2+12.83)/(12.31*2+12.30) - 1
	within(t, "common: the load's 5 %", got.CommonStdUncOhm, tolerance*2.5*0.05/math.Sqrt(3), 1e-5)
	if got.OwnStdUncOhm < 0.001 || got.Excluded != "" || *got.ReadAfterS != 5 || got.Charge != loadtest.ChargeFull {
		t.Errorf("%+v", got)
	}
	if got := FromLoadTest("a", autumn, &lt, nil); got.Excluded == "" {
		t.Error("a test without a result is used")
	}
	r.BoundOnly = true
	if got := FromLoadTest("a", autumn, &lt, &r); !strings.Contains(got.Excluded, "upper bound") {
		t.Errorf("a bound is used: %q", got.Excluded)
	}
	d := loadtest.Direct{Method: loadtest.DirectAC, ResistanceOhm: []float64{0.05, 0.051}, AccuracyPct: 1, ResolutionOhm: 0.001, FrequencyHz: ptr(1000.0), Charge: loadtest.ChargeFull}
	if r, err = loadtest.ComputeDirect(d, loadtest.Options{}); err != nil {
		t.Fatal(err)
	}
	got = FromDirect("b", autumn, &d, &r)
	within(t, "common: 1 %", got.CommonStdUncOhm, 0.0505*0.01/math.Sqrt(3), 1e-9)
	if got.FrequencyHz != 1000 || got.LoadOhm != 0 || got.OwnStdUncOhm <= 0 {
		t.Errorf("%+v", got)
	}
}

// At 20 °C: the ratios of the published table that the coefficient is from,
// 17.9 + 18.2 + 7.70 mΩ at 1 °C over 9.30 + 9.49 + 4.01 mΩ at 26 °C = 1.92.
func TestTo20C(t *testing.T) {
	within(t, "1 °C over 26 °C", math.Exp(0.026*25), 1.92, 0.005)
	tests := weekly(100, 100, 100, 100, 100, 100, 100, 100)
	for i := range tests { // winter comes: the cells are as they were
		c := 24 - float64(i)
		tests[i].TemperatureC = &c
		tests[i].ResistanceOhm = 0.1 * math.Exp(-0.026*(c-20))
	}
	raw := mustAnalyse(t, tests, Options{LimitOhm: 0.15})
	if raw.Outcome == NoTrend || len(raw.Warnings) != 1 || raw.Warnings[0].Code != TemperaturesDiffer {
		t.Errorf("raw: %s, %+v", raw.Outcome, raw.Warnings)
	}
	a := mustAnalyse(t, tests, Options{LimitOhm: 0.15, To20C: true})
	if a.Outcome != NoTrend || len(a.Warnings) != 0 {
		t.Errorf("at 20 °C: %s, %+v", a.Outcome, a.Warnings)
	}
	for i, oc := range a.Series.Occasions {
		within(t, "at 20 °C", oc.Ohm, 0.1, 1e-12)
		within(t, "raw", oc.RawOhm, tests[i].ResistanceOhm, 0)
		within(t, "own", oc.OwnStdUncOhm, math.Hypot(0.0005*0.1/oc.RawOhm, 0.1*0.026), 1e-12)
	}
	// The coefficient's own uncertainty, 0.0049/K over a kelvin a week, bends the
	// line by 0.49 % of 0.1 Ω a week.
	exact := mustAnalyse(t, tests, Options{LimitOhm: 0.15, To20C: true, Tempco: Temperature{PerK: 0.026, ThermometerUncK: 1}})
	added := math.Sqrt(a.Line.SlopeStdUnc*a.Line.SlopeStdUnc - exact.Line.SlopeStdUnc*exact.Line.SlopeStdUnc)
	within(t, "added", added, 0.1*0.0049/7, 1e-6)
}

// Weights only where they help: many occasions, uncertainties at least twofold.
func TestWeights(t *testing.T) {
	fuzzy := func(n int, coarse float64) Series {
		mohm := make([]float64, n)
		for i := range mohm {
			mohm[i] = 90 + float64(i%2)*0.01
		}
		tests := weekly(mohm...)
		for i := range tests {
			if i%3 == 0 {
				tests[i].OwnStdUncOhm = coarse
			}
		}
		return mustAnalyse(t, tests, Options{}).Series
	}
	if s := fuzzy(12, 0.005); !s.Weighted || s.Occasions[0].Weight != 1 || s.Occasions[1].Weight != 4 {
		t.Errorf("weights %v", s.weights())
	}
	if fuzzy(10, 0.005).Weighted || fuzzy(12, 0.0009).Weighted {
		t.Error("weights for few occasions, or for nearly equal uncertainties")
	}
}
