package loadtest

import (
	"slices"
	"strings"
	"testing"
)

// complete is a test with nothing to doubt.
func complete() Test {
	return Test{
		Method: KnownLoad, OpenV: []float64{13.31, 13.31, 13.30}, LoadedV: []float64{12.81, 12.80, 12.80}, LoadOhm: 2.5, LoadTolerancePct: ptr(1),
		Meter: dmm, ReadAfterS: ptr(5), TemperatureC: ptr(20), Charge: ChargeFull, RestedMin: ptr(60),
	}
}

// TestWarnings: what brings each warning. The limits are in TestEdgesOfWarnings.
func TestWarnings(t *testing.T) {
	change := func(f func(t *Test)) Test { x := complete(); f(&x); return x }
	scatter := func(step float64) Test {
		return change(func(t *Test) { t.LoadedV = []float64{12.8 - step, 12.8, 12.8 + step} })
	}
	cases := []struct {
		code            string
		without, withIt Test
		o               Options
	}{
		{code: NotFull, without: complete(), withIt: change(func(t *Test) { t.Charge = ChargePartial })},
		{code: ConditionsMissed, without: complete(), withIt: change(func(t *Test) { t.Charge = ChargeUnknown })},
		{code: ConditionsMissed, without: complete(), withIt: change(func(t *Test) { t.Charge = "" })},
		{code: ConditionsMissed, without: complete(), withIt: change(func(t *Test) { t.TemperatureC = nil })},
		{code: ConditionsMissed, without: complete(), withIt: change(func(t *Test) { t.RestedMin = nil })},
		{code: SecondMissing, without: complete(), withIt: change(func(t *Test) { t.ReadAfterS = nil })},
		{code: AboveFuse, without: complete(), withIt: complete(), o: Options{FuseA: 5}},
		{code: VeryHigh, without: complete(), withIt: change(func(t *Test) { t.LoadedV = []float64{10.5, 10.5, 10.5} })},
		{code: LargeUncertainty, without: complete(), withIt: change(func(t *Test) { t.OpenV, t.LoadedV = []float64{13.31}, []float64{13.29} })},
		{code: LargeScatter, without: scatter(0.01), withIt: scatter(0.1)},
		{code: ImplausiblyLow, without: complete(), withIt: change(func(t *Test) {
			t.LoadOhm, t.OpenV, t.LoadedV = 0.1, []float64{13.31, 13.31, 13.31}, []float64{13.21, 13.21, 13.21}
		})},
	}
	for _, c := range cases {
		has := func(test Test, o Options) bool {
			r, err := Compute(test, o)
			if err != nil {
				t.Fatal(c.code, err)
			}
			return warned(r, c.code)
		}
		if has(c.without, Options{}) {
			t.Errorf("%s is there without reason", c.code)
		}
		if !has(c.withIt, c.o) {
			t.Errorf("%s is missing", c.code)
		}
	}
	if r := mustCompute(t, complete()); len(r.Warnings) != 0 || r.Warnings == nil {
		t.Errorf("a complete test has warnings %+v", r.Warnings)
	}
}

// TestUnknownFuse: without a known fuse the usual 20 A count (common practice, no
// source).
func TestUnknownFuse(t *testing.T) {
	heavy := complete()
	heavy.LoadOhm, heavy.LoadedV = 0.5, []float64{10.9, 10.9, 10.9}
	if r := mustCompute(t, heavy); !warned(r, AboveFuse) {
		t.Errorf("%g A on a fuse that is not known", *r.CurrentA)
	}
}

// TestTemperatureWords: the rates are those of cells.ResistanceRatio, whose test
// names the source; here by hand exp(0.026·10) − 1 = 30 %, exp(−0.026·6) = −14 %,
// exp(−0.026·6 − 0.0175·4) = −20 %, ·9 −27 %, ·14 −33 %.
func TestTemperatureWords(t *testing.T) {
	for c, want := range map[float64]string{
		10: "at 10 °C the resistance is about 30 % higher than at 20 °C (2.6 % per °C)",
		26: "at 26 °C the resistance is about 14 % lower than at 20 °C (2.6 % per °C)",
		30: "at 30 °C the resistance is about 20 % lower than at 20 °C (2.6 % per °C, 1.75 % above 26 °C)",
		35: "at 35 °C the resistance is about 27 % lower than at 20 °C (2.6 % per °C, 1.75 % above 26 °C)",
		40: "at 40 °C the resistance is about 33 % lower than at 20 °C (2.6 % per °C, 1.75 % above 26 °C)",
		68: "68 °C is outside what a pack may have",
	} {
		test := complete()
		test.TemperatureC = &c
		r := mustCompute(t, test)
		if len(r.Warnings) != 1 || r.Warnings[0].Text != want {
			t.Errorf("%g °C: %+v, want %q", c, r.Warnings, want)
		}
	}
}

// TestWords: warnings are written like all messages, and every one says what
// to do.
func TestWords(t *testing.T) {
	bad := bench()
	bad.LoadTolerancePct = nil
	bad.OpenV, bad.LoadedV = []float64{11.9}, []float64{9.5}
	bad.TemperatureC, bad.RestedMin, bad.Charge = ptr(2), ptr(5), ChargePartial
	r, err := Compute(bad, Options{FuseA: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	check := func(w Warning) {
		if w.Hint == "" || strings.HasSuffix(w.Text, ".") || w.Text == "" || strings.ToUpper(w.Text[:1]) == w.Text[:1] && w.Text[0] >= 'A' {
			t.Errorf("%s: %q, hint %q", w.Code, w.Text, w.Hint)
		}
	}
	for _, w := range r.Warnings {
		check(w)
	}
	want := []string{VeryHigh, OneReading, ToleranceAssumed, AboveFuse, LostCell, EmptyOnLoad, SecondMissing, NotFull, NotRested, TemperatureOff}
	var got []string
	for _, w := range r.Warnings {
		got = append(got, w.Code)
	}
	if !slices.Equal(got, want) {
		t.Errorf("warnings %v, want %v", got, want)
	}
}
