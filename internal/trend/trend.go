// Package trend says where a pack's resistance is going: whether it rises, how
// fast, and between which dates it will cross a limit, or plainly that this
// cannot be told yet and what is missing.
//
// Use this first: make a Test of every test of one pack with FromLoadTest or
// FromDirect and give them all to Analyse. It chooses the tests that compare,
// hands every other one back with the reason, and answers with an Outcome, a
// sentence, the fitted Line, a Forecast, what changed suddenly, and the
// working. Fit and Kendall are the two methods alone, for any data.
//
// Why these methods. A season gives five to forty tests with now and then a
// wild one: a hot resistor, a loose plug. The slope is the median of the slopes
// of all pairs (Theil 1950, Sen 1968), which up to 29 % of wild tests cannot
// carry away; its interval and the test for a trend both come from Kendall's
// statistic and assume no shape of the scatter. Least squares has neither
// property and is not used.
//
// Times are unix milliseconds throughout, so clocks put forward and time zones
// play no part; a day is 86,400,000 ms.
package trend

import (
	"math"
	"slices"
	"strings"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
)

const (
	// MaxTests is the most tests of one pack that are analysed: several a day for
	// longer than any pack lives.
	MaxTests = 20_000

	// FewestOccasions is the least number of test days for a trend: with four,
	// even a steady rise has a two-sided probability of 2/4! = 8 % by chance.
	FewestOccasions = 5

	// SameOccasionHours: tests this close together share the day's temperature
	// and charge, so they count as one, with the median of their values (own rule).
	SameOccasionHours = 12.0

	// NoisePct is the change, in percent of the level, below which nothing is
	// called a trend or a jump: one pack repeats within ±3 % (one standard
	// deviation, calculated from an open drive log of a 120-cell pack).
	NoisePct = 5.0

	significance = 0.05 // two-sided, of the test for a trend
	dayMS        = 86_400_000.0
)

// Test is one test of a pack as the trend sees it.
type Test struct {
	ID            string
	AtMS          int64 // unix ms
	Method        loadtest.Method
	ResistanceOhm float64
	// OwnStdUncOhm is the part of the standard uncertainty that is new at each
	// test: scatter and last digits. CommonStdUncOhm is what tests with one set-up
	// share: the load's tolerance, its leads, an instrument's gain. The common
	// part moves the whole series and bends nothing.
	OwnStdUncOhm, CommonStdUncOhm float64
	LoadOhm                       float64  // loaded voltage over current; 0 for a direct reading
	FrequencyHz                   float64  // of an a.c. reading; 0 unknown
	ReadAfterS                    *float64 // second on load; nil unknown
	TemperatureC                  *float64 // °C; nil unknown
	Charge                        loadtest.Charge
	Excluded                      string // why it cannot be used, where the caller knows: voided, not computable
}

// FromLoadTest makes a Test of a load test and its result. A nil result, or one
// that is only a bound, is excluded with the reason.
func FromLoadTest(id string, atMS int64, t *loadtest.Test, r *loadtest.Result) Test {
	test := fromResult(id, atMS, t.Method, r)
	test.ReadAfterS, test.TemperatureC, test.Charge = t.ReadAfterS, t.TemperatureC, t.Charge
	return test
}

// FromDirect makes a Test of a direct reading and its result.
func FromDirect(id string, atMS int64, d *loadtest.Direct, r *loadtest.Result) Test {
	test := fromResult(id, atMS, d.Method, r)
	test.TemperatureC, test.Charge = d.TemperatureC, d.Charge
	if d.FrequencyHz != nil {
		test.FrequencyHz = *d.FrequencyHz
	}
	return test
}

func fromResult(id string, atMS int64, method loadtest.Method, r *loadtest.Result) Test {
	t := Test{ID: id, AtMS: atMS, Method: method}
	if r == nil {
		t.Excluded = "its result cannot be computed"
		return t
	}
	if r.BoundOnly {
		t.Excluded = "its result is only an upper bound"
	}
	t.ResistanceOhm = r.ResistanceOhm
	var own, common float64
	for i := range r.Budget {
		l := &r.Budget[i]
		if l.Source == loadtest.Scatter || strings.HasPrefix(l.Source, "display of ") {
			own += measure.Square(l.ContributionOhm)
		} else {
			common += measure.Square(l.ContributionOhm)
		}
	}
	t.OwnStdUncOhm, t.CommonStdUncOhm = math.Sqrt(own), math.Sqrt(common)
	if r.LoadedV != nil && r.CurrentA != nil {
		t.LoadOhm = *r.LoadedV / *r.CurrentA
	}
	return t
}

// Options say what is asked.
type Options struct {
	LimitOhm float64     // ohm, the limit whose crossing is forecast; 0: none
	SinceMS  int64       // unix ms, the pack's latest new baseline, such as a lead repair; 0: none
	Like     string      // id of the test whose set-up the series follows; empty: the commonest set-up
	To20C    bool        // bring every resistance to 20 °C first
	Tempco   Temperature // for To20C; zero: UsualTemperature
	Working  bool        // write the working out
	Clock    place.Clock // by which days are told
}

// Outcome is the answer in a word. The texts are part of the API.
type Outcome string

// The outcomes.
const (
	TooFew        Outcome = "too-few"        // not enough comparable tests for a trend
	NoTrend       Outcome = "no-trend"       // no trend to speak of
	Falling       Outcome = "falling"        // the resistance goes down
	Rising        Outcome = "rising"         // it goes up, and there is no limit to compare with
	AlreadyAbove  Outcome = "already-above"  // the line is above the limit at the latest test
	BeyondHorizon Outcome = "beyond-horizon" // it will cross later than the tests can tell
	Crossing      Outcome = "crossing"       // it crosses within the horizon: see Forecast
	Stepped       Outcome = "stepped"        // it jumped and stayed: no wear, so no date
)

// Analysis is the whole answer for one pack.
type Analysis struct {
	Outcome  Outcome            `json:"outcome"`
	Text     string             `json:"text"`     // one sentence
	Missing  []string           `json:"missing"`  // what a firmer answer needs
	Series   Series             `json:"series"`   // what was compared, and what not
	Kendall  *Kendall           `json:"kendall"`  // null with too few tests
	Line     *Line              `json:"line"`     // day after Series.StartMS, and ohm; null with too few tests
	Forecast *Forecast          `json:"forecast"` // null where there is no limit, no trend or no d.c. series
	Chart    *Chart             `json:"chart"`    // null with fewer than two occasions
	Warnings []loadtest.Warning `json:"warnings"`
	Working  []loadtest.Step    `json:"working"` // empty unless asked for
}

// Analyse answers for the tests of one pack, given in any order. Errors are
// problems: numbers that no test can have, or too many tests.
func Analyse(tests []Test, o Options) (Analysis, error) {
	each := make([]*Test, len(tests))
	for i := range tests {
		each[i] = &tests[i]
	}
	if err := check(each, &o); err != nil {
		return Analysis{}, err
	}
	a := Analysis{Missing: []string{}, Warnings: []loadtest.Warning{}, Working: []loadtest.Step{}, Series: choose(each, &o)}
	s := &a.Series
	a.warnOfSeries(o)
	if len(s.Occasions) >= FewestOccasions {
		line, kendall, err := fitSeries(s)
		if err != nil {
			return Analysis{}, err
		}
		if o.To20C {
			widenForTempco(s, &line, o.Tempco)
		}
		a.Line, a.Kendall = &line, &kendall
	}
	a.Chart = chartOf(s, a.Line)
	a.warnOfChanges(o)
	a.decide(o)
	if o.Working {
		a.Working = workingOf(&a, &o)
	}
	return a, nil
}

// check refuses what no test can have.
func check(tests []*Test, o *Options) error {
	if len(tests) > MaxTests {
		return problem.New(problem.TooLarge, "leave out the oldest", "%d tests of one pack are more than %d", len(tests), MaxTests)
	}
	if !(o.LimitOhm >= 0 && o.LimitOhm <= mostOhm) {
		return problem.Invalidf("limit_ohm", "give it in ohm, such as 0.1", "a limit of %s is not possible", measure.Show(o.LimitOhm, "Ω"))
	}
	if o.Tempco == (Temperature{}) {
		o.Tempco = UsualTemperature()
	}
	if err := o.Tempco.Check(); err != nil {
		return err
	}
	for _, t := range tests {
		if t.Excluded == "" {
			if err := t.check(); err != nil {
				return err
			}
		}
	}
	return o.checkLike(tests)
}

// checkLike: the test that a series is to follow must be fit for one.
func (o *Options) checkLike(tests []*Test) error {
	if o.Like == "" {
		return nil
	}
	i := slices.IndexFunc(tests, func(t *Test) bool { return t.ID == o.Like })
	if i < 0 {
		return problem.New(problem.NotFound, "choose a test of this pack", "there is no test %s", o.Like)
	}
	if reason := tests[i].unfit(o); reason != "" {
		return problem.Invalidf("like", "choose another test", "no series can follow this test: %s", reason)
	}
	return nil
}

const (
	mostOhm = 1000.0          // no pack that is worth a trend comes near (own bound)
	lastMS  = 253402300799999 // the last millisecond of the year 9999
)

// Check says what no test can have; one such test would spoil the analysis of
// all, so a caller may exclude it with the reason. Errors are *problem.Error.
func (t *Test) Check() error { return t.check() }

func (t *Test) check() error {
	hint := func() string { return "void test " + t.ID + " and test again" }
	switch {
	case !(t.ResistanceOhm > 0 && t.ResistanceOhm <= mostOhm):
		return problem.Invalidf("resistance_ohm", hint(), "a resistance of %s is not possible", measure.Show(t.ResistanceOhm, "Ω"))
	case !(t.OwnStdUncOhm >= 0 && t.OwnStdUncOhm <= mostOhm):
		return problem.Invalidf("own_std_unc_ohm", hint(), "an uncertainty of %s is not possible", measure.Show(t.OwnStdUncOhm, "Ω"))
	case !(t.CommonStdUncOhm >= 0 && t.CommonStdUncOhm <= mostOhm):
		return problem.Invalidf("common_std_unc_ohm", hint(), "an uncertainty of %s is not possible", measure.Show(t.CommonStdUncOhm, "Ω"))
	case t.AtMS < 0 || t.AtMS > lastMS:
		return problem.Invalidf("at_ms", "set the clock of the phone", "%d ms is no time between the years 1970 and 9999", t.AtMS)
	case !(t.LoadOhm >= 0 && t.LoadOhm <= 1e6):
		return problem.Invalidf("load_ohm", hint(), "a load of %s is not possible", measure.Show(t.LoadOhm, "Ω"))
	case !(t.FrequencyHz >= 0 && t.FrequencyHz <= 1e9):
		return problem.Invalidf("frequency_hz", hint(), "a frequency of %s is not possible", measure.Show(t.FrequencyHz, "Hz"))
	case t.ReadAfterS != nil && !(*t.ReadAfterS >= 0 && *t.ReadAfterS <= 86400):
		return problem.Invalidf("read_after_s", hint(), "reading after %s is not possible", measure.Show(*t.ReadAfterS, "s"))
	case t.TemperatureC != nil && !(*t.TemperatureC >= -60 && *t.TemperatureC <= 120):
		return problem.Invalidf("temperature_c", hint(), "a pack at %s is not possible", measure.Show(*t.TemperatureC, "°C"))
	}
	return nil
}

// fitSeries fits the occasions, once unweighted and, where their scatter is
// plainly unequal, once more with the weights that follow from it.
func fitSeries(s *Series) (Line, Kendall, error) {
	x, y, w := s.days(), s.values(), s.weights()
	line, kendall, err := Fit(x, y, nil)
	if err != nil {
		return line, kendall, err
	}
	if s.weigh(&line) {
		w = s.weights()
		if line, kendall, err = Fit(x, y, w); err != nil {
			return line, kendall, err
		}
	}
	for i := range s.Occasions {
		s.Occasions[i].ResidualOhm = y[i] - line.At(x[i]).Value
	}
	line.atLeast(s.ownStdUnc(), x, w)
	return line, kendall, nil
}

// median is the median of a list, which it may reorder; NaN of none.
func median(list []float64) float64 {
	if len(list) == 0 {
		return math.NaN()
	}
	slices.Sort(list)
	n := len(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// Choose gives the tests that compare, without fitting anything to them: the
// series that Analyse would use, and every other test with the reason. The tests
// stay as they are. Errors are those of Analyse.
func Choose(tests []*Test, o Options) (Series, error) {
	if err := check(tests, &o); err != nil {
		return Series{}, err
	}
	return choose(tests, &o), nil
}
