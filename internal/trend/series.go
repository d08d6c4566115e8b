package trend

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/order"
)

const (
	// LoadWindowPct is how far a load, or the frequency of an a.c. reading, may
	// lie from that of the series.
	LoadWindowPct = 20.0

	// SecondWindowPct and SecondWindowS: the reading second may differ by 20 %,
	// and by half a second at least, which is what a hand can do. Resistance grows
	// by 10 to 35 % from 1 s to 5 s on load (calculated from the drive log that
	// package cells names), so 20 % of the time is about 2 to 5 % of R.
	SecondWindowPct = 20.0
	SecondWindowS   = 0.5
)

// Family is a kind of method whose readings compare with one another.
type Family string

// The families. They are never mixed: an a.c. reading leaves out what builds up
// over seconds, and an instrument chooses its own current and time.
const (
	LoadTests    Family = "load-tests"    // known load, two loads, measured current
	InstrumentDC Family = "instrument-dc" // direct reading, d.c.
	InstrumentAC Family = "instrument-ac" // direct reading, a.c.
)

func familyOf(m loadtest.Method) (Family, string) {
	switch m {
	case loadtest.KnownLoad, loadtest.TwoLoads, loadtest.MeasuredCurrent:
		return LoadTests, "load tests"
	case loadtest.DirectDC:
		return InstrumentDC, "d.c. readings of an instrument"
	case loadtest.DirectAC:
		return InstrumentAC, "a.c. readings of an instrument"
	}
	return "", "an unknown method"
}

// Series is what was compared.
type Series struct {
	Family      Family     `json:"family"`       // empty where there is no usable test
	LoadOhm     float64    `json:"load_ohm"`     // ohm, that the others are within 20 % of; 0 for direct readings
	FrequencyHz float64    `json:"frequency_hz"` // of a.c. readings; 0 unknown or d.c.
	ReadAfterS  *float64   `json:"read_after_s"` // second, that the others are near; null where none is recorded
	StartMS     int64      `json:"start_ms"`     // unix ms of the first occasion
	Occasions   []Occasion `json:"occasions"`    // by time
	Aside       []Aside    `json:"aside"`        // every other test, by time
	Weighted    bool       `json:"weighted"`     // the occasions do not all count alike

	temperatures [2]float64 // °C, lowest and highest recorded; NaN where none
	common       float64    // ohm, median common standard uncertainty
}

// Aside is a test that is not in the series.
type Aside struct {
	Test   string `json:"test"` // id
	AtMS   int64  `json:"at_ms"`
	Reason string `json:"reason"` // in words
}

// choose finds the series among the tests. A family is taken whose tests are
// most, d.c. before a.c. because the limit is a d.c. one; then the load and
// then the reading second with the most tests around it. Equal numbers go to the
// later test.
func choose(tests []*Test, o *Options) Series {
	s := Series{Aside: []Aside{}, temperatures: [2]float64{math.NaN(), math.NaN()}}
	tests = slices.Clone(tests)
	order.Stable(tests, func(a, b **Test) int {
		return cmp.Or(cmp.Compare((*a).AtMS, (*b).AtMS), cmp.Compare((*a).ID, (*b).ID), cmp.Compare((*a).ResistanceOhm, (*b).ResistanceOhm))
	})
	usable := make([]*Test, 0, len(tests))
	for _, t := range tests {
		if t.unfit(o) == "" {
			usable = append(usable, t)
		}
	}
	like := commonest(usable)
	if i := slices.IndexFunc(usable, func(t *Test) bool { return t.ID == o.Like }); o.Like != "" && i >= 0 {
		like = setUpOf(usable[i])
	}
	s.Family, s.LoadOhm, s.FrequencyHz, s.ReadAfterS = like.family, like.ohm, like.hertz, like.second
	in := make([]*Test, 0, len(tests))
	for _, t := range tests {
		reason := t.unfit(o)
		if reason == "" {
			reason = t.unlike(like)
		}
		if reason == "" {
			in = append(in, t)
		} else {
			s.Aside = append(s.Aside, Aside{Test: t.ID, AtMS: t.AtMS, Reason: reason})
		}
	}
	s.gather(in, o)
	return s
}

// unfit says why a test can be in no series, or nothing.
func (t *Test) unfit(o *Options) string {
	family, _ := familyOf(t.Method)
	switch {
	case t.Excluded != "":
		return t.Excluded
	case family == "":
		return "its method is not known here"
	case t.AtMS < o.SinceMS:
		return "it is from before the new baseline"
	case t.Charge == loadtest.ChargePartial:
		return "the pack was not full"
	case t.Charge != loadtest.ChargeFull:
		return "it is not recorded that the pack was full"
	case o.To20C && t.TemperatureC == nil:
		return "its temperature is not recorded, so it cannot be brought to 20 °C"
	}
	return o.tempcoRange(t)
}

// unlike says why a test does not compare with the others of a set-up, or
// nothing.
func (t *Test) unlike(s setUp) string {
	family, words := familyOf(t.Method)
	switch {
	case family != s.family:
		return "the series is of another kind of test than " + words
	case !near(t.LoadOhm, s.ohm):
		return "its load of " + measure.ShowDigits(t.LoadOhm, 3, "Ω") + " is more than 20 % off the series' " + measure.ShowDigits(s.ohm, 3, "Ω")
	case !near(t.FrequencyHz, s.hertz):
		return "its frequency (" + frequency(t.FrequencyHz) + ") is not that of the series (" + frequency(s.hertz) + ")"
	case t.ReadAfterS == nil && s.second != nil:
		return "its reading second is not recorded"
	case t.ReadAfterS != nil && s.second == nil:
		return "its reading second is recorded, those of the series are not"
	case t.ReadAfterS != nil && !nearSecond(*t.ReadAfterS, *s.second):
		return "it was read after " + measure.Show(*t.ReadAfterS, "s") + ", the series after " + measure.Show(*s.second, "s")
	}
	return ""
}

func frequency(hz float64) string {
	if hz == 0 {
		return "not recorded"
	}
	return measure.Show(hz, "Hz")
}

// near: within 20 % of the reference. Unknown, 0, is near unknown only.
func near(v, reference float64) bool {
	return math.Abs(v-reference) <= reference*LoadWindowPct/100
}

func nearSecond(v, reference float64) bool {
	return math.Abs(v-reference) <= max(SecondWindowS, reference*SecondWindowPct/100)
}

// setUp is what the tests of a series have in common.
type setUp struct {
	family     Family
	ohm, hertz float64
	second     *float64
}

func setUpOf(t *Test) setUp {
	family, _ := familyOf(t.Method)
	return setUp{family, t.LoadOhm, t.FrequencyHz, t.ReadAfterS}
}

// commonest is the set-up with the most tests around it.
func commonest(tests []*Test) setUp {
	count := map[Family]int{}
	var s setUp
	for _, t := range tests { // by time, so that the later wins among equals
		f, _ := familyOf(t.Method)
		count[f]++
	}
	for _, t := range tests {
		f, _ := familyOf(t.Method)
		if s.family == "" || s.family == InstrumentAC || f != InstrumentAC && count[f] >= count[s.family] {
			s.family = f
		}
	}
	tests = slices.DeleteFunc(slices.Clone(tests), func(t *Test) bool { f, _ := familyOf(t.Method); return f != s.family })
	s.ohm, tests = crowd(tests, func(t *Test) float64 { return t.LoadOhm }, near)
	s.hertz, tests = crowd(tests, func(t *Test) float64 { return t.FrequencyHz }, near)
	second, tests := crowd(tests, func(t *Test) float64 {
		if t.ReadAfterS == nil {
			return unrecorded
		}
		return *t.ReadAfterS
	}, nearSecond)
	if len(tests) > 0 && second != unrecorded {
		s.second = &second
	}
	return s
}

// unrecorded stands for a reading second that is not known; it is near no other.
const unrecorded = -10.0

// crowd finds the value that the most tests are near, and these tests. Of equal
// crowds, the one around the latest test is taken.
func crowd(tests []*Test, of func(*Test) float64, near func(v, reference float64) bool) (float64, []*Test) {
	values := make([]float64, len(tests))
	for i, t := range tests {
		values[i] = of(t)
	}
	slices.Sort(values)
	best, most := 0.0, 0
	for _, t := range tests {
		v := of(t)
		low, _ := slices.BinarySearchFunc(values, v, func(e, v float64) int { return toward(near(e, v), e < v) })
		high, _ := slices.BinarySearchFunc(values, v, func(e, v float64) int { return toward(!near(e, v) && e > v, e <= v || near(e, v)) })
		if n := high - low; n >= most {
			best, most = v, n
		}
	}
	return best, slices.DeleteFunc(slices.Clone(tests), func(t *Test) bool { return !near(of(t), best) })
}

// toward steers a binary search to the first element that is found.
func toward(found, below bool) int {
	switch {
	case found:
		return 0
	case below:
		return -1
	}
	return 1
}
