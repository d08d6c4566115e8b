package trend

import (
	"math"
	"slices"
	"strings"
	"testing"

	"packwright/internal/place"
)

// Flow rate of ten batches: NIST/SEMATECH e-Handbook 6.3.2.2 (published source):
// mean range 1.8778, limits 55.8041 and 45.8159, nothing outside.
func TestChartOfHandbook(t *testing.T) {
	y := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	ranges := make([]float64, len(y)-1)
	sum := y[0]
	for i := range ranges {
		ranges[i] = math.Abs(y[i+1] - y[i])
		sum += y[i+1]
	}
	mean, screened := moving(ranges)
	within(t, "mean range", mean, 1.8778, 5e-5)
	within(t, "screened", float64(screened), 0, 0)
	s := &Series{}
	for i, v := range y {
		s.Occasions = append(s.Occasions, Occasion{AtMS: int64(i) * dayMS, Ohm: v, Weight: 1})
	}
	c := chartOf(s, nil)
	// The handbook divides by d2; 2.66 is 3/d2 rounded to three digits.
	within(t, "upper limit", sum/10+3*c.SigmaOhm, 55.8041, 1e-4)
	within(t, "lower limit", sum/10-3*c.SigmaOhm, 45.8159, 1e-4)
	within(t, "by 2.66", c.ValueLimitOhm, 2.66*1.8778, 1e-3*5)
	within(t, "limit of ranges, our own product", c.RangeLimitOhm, 6.1347, 5e-4)
	if len(c.Changes) != 0 {
		t.Errorf("flagged: %+v", c.Changes)
	}
}

// The constants follow from the distribution of |X − Y| for two normal values.
func TestChartConstants(t *testing.T) {
	d2 := 2 / math.Sqrt(math.Pi)
	d3 := math.Sqrt(2 - d2*d2)
	medianRange := math.Sqrt2 / madFactor
	within(t, "d2", rangeMean, d2, 5e-4)
	within(t, "D4", rangeLimit, 1+3*d3/d2, 5e-4)
	within(t, "3/d2", valueLimit, 3/d2, 5e-3)
	within(t, "limit over the median", rangeScreen, (d2+3*d3)/medianRange, 5e-3)
	within(t, "1/Φ⁻¹(0.75)", math.Erfc(-1/madFactor/math.Sqrt2)/2, 0.75, 1e-15)
}

func TestSuddenChanges(t *testing.T) {
	for what, c := range map[string]struct {
		mohm []float64
		kind ChangeKind // empty: nothing
		at   int
	}{
		"steady":                   {[]float64{100, 101, 99, 100, 102, 101, 100}, "", 0},
		"wear":                     {[]float64{100, 102, 104, 107, 109, 111, 113}, "", 0},
		"below the noise":          {[]float64{100, 100, 100, 104, 104, 104, 104}, "", 0},
		"jumped and stayed":        {[]float64{100, 101, 99, 100, 121, 120, 122}, Step, 4},
		"mended":                   {[]float64{121, 120, 122, 121, 100, 101, 99, 100}, Step, 4},
		"stayed so far":            {[]float64{100, 101, 99, 100, 121, 120}, Step, 4},
		"one off":                  {[]float64{100, 101, 99, 130, 100, 102, 101}, Outlier, 3},
		"the first off":            {[]float64{130, 101, 99, 100, 101, 102, 101}, Outlier, 0},
		"the latest off":           {[]float64{100, 101, 99, 100, 101, 102, 130}, Unconfirmed, 6},
		"the second of two":        {[]float64{100, 130}, Unconfirmed, 1},
		"the second of two within": {[]float64{100, 110}, "", 0},
		"one off of three":         {[]float64{100, 130, 101}, Outlier, 1},
		"the latest of four":       {[]float64{100, 101, 100, 125}, Unconfirmed, 3},
	} {
		a := mustAnalyse(t, weekly(c.mohm...), Options{LimitOhm: 0.2})
		switch {
		case c.kind == "" && len(a.Chart.Changes) == 0:
		case c.kind != "" && len(a.Chart.Changes) == 1 && a.Chart.Changes[0].Kind == c.kind && a.Chart.Changes[0].Occasion == c.at:
		default:
			t.Errorf("%s: %+v", what, a.Chart.Changes)
		}
		if len(a.Series.Occasions) != len(c.mohm) {
			t.Errorf("%s: a flagged test was dropped", what)
		}
		if (c.kind == Step) != (a.Outcome == Stepped) {
			t.Errorf("%s: %s, %q", what, a.Outcome, a.Text)
		}
		if len(a.Warnings) != len(a.Chart.Changes) {
			t.Errorf("%s: changes and warnings: %+v", what, a.Warnings)
		}
		for _, w := range a.Warnings { // a person knows tests by their day, not by a number
			if day := place.Clock(nil).Words(a.Series.Occasions[c.at].AtMS); w.Code != LatestOff && !strings.Contains(w.Text, "the test of "+day) {
				t.Errorf("%s: %s, want %s", what, w.Text, day)
			}
		}
	}
}

// A summer between two tests is no jump, because the wear on either side explains
// it.
func TestSummerIsNoStep(t *testing.T) {
	tests := weekly(100, 102, 104, 106, 120, 122, 124, 126)
	for i := range tests[4:] {
		tests[4+i].AtMS += 42 * dayMS
	}
	if a := mustAnalyse(t, tests, Options{}); a.Chart.has(Step) {
		t.Errorf("%+v", a.Chart.Changes)
	}
	if a := mustAnalyse(t, weekly(100, 102, 104, 106, 120, 122, 124, 126), Options{}); !a.Chart.has(Step) {
		t.Error("the same within a week is not seen")
	}
}

// Two wild ranges do not hide the value that made them.
func TestScreen(t *testing.T) {
	ranges := []float64{1, 2, 1, 30, 29, 2, 1}
	mean, screened := moving(slices.Clone(ranges))
	within(t, "mean", mean, 7.0/5, 1e-12)
	within(t, "screened", float64(screened), 2, 0)
	if mean, screened = moving([]float64{0, 0, 0, 5}); mean != 1.25 || screened != 0 {
		t.Errorf("equal readings make a screen of nothing: %g, %d", mean, screened)
	}
}
