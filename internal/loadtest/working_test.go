package loadtest

import (
	"fmt"
	"strings"
	"testing"
)

// TestWorkingIsComplete: no step of any working has an empty part or an
// unfilled name, and the last gives the result.
func TestWorkingIsComplete(t *testing.T) {
	repeats := func(test Test) Test {
		for _, list := range []*[]float64{&test.OpenV, &test.LoadedV, &test.Loaded1V, &test.Loaded2V, &test.CurrentA} {
			if len(*list) == 1 {
				v := (*list)[0]
				*list = []float64{v, v - 0.01, v, v, v, v + 0.02, v}
			}
		}
		test.ReadAfterS = ptr(5)
		return test
	}
	bound := bench()
	bound.OpenV, bound.LoadedV = []float64{12.84, 12.84}, []float64{12.84, 12.83}
	tests := []Test{bound}
	for _, c := range simulated {
		tests = append(tests, c.test, repeats(c.test))
	}
	for _, test := range tests {
		r, err := Compute(test, Options{Working: true})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Working) < 10 || len(r.Working) > 30 {
			t.Errorf("%s: %d steps", test.Method, len(r.Working))
		}
		for _, s := range r.Working {
			if s.Label == "" || s.Formula == "" || s.Numbers == "" || s.Result == "" || strings.ContainsAny(s.Label+s.Formula+s.Numbers+s.Result, "{}|") {
				t.Errorf("%s: %+v", test.Method, s)
			}
			if strings.HasSuffix(strings.TrimSpace(s.Numbers), "+") || strings.Contains(s.Numbers, "  ") || strings.Contains(s.Numbers, "NaN") {
				t.Errorf("%s: %+v", test.Method, s)
			}
		}
		if last := r.Working[len(r.Working)-1]; !strings.HasPrefix(last.Label, "result") {
			t.Errorf("%s: the last step is %+v", test.Method, last)
		}
	}
	for _, s := range mustSetup(t, rig()).Working {
		if s.Label == "" || s.Formula == "" || s.Numbers == "" || s.Result == "" || strings.ContainsAny(s.Label+s.Formula+s.Numbers+s.Result, "{}|") {
			t.Errorf("set-up: %+v", s)
		}
	}
}

// TestWorkingFitsTheTest: steps are there with what they are about, and only
// then.
func TestWorkingFitsTheTest(t *testing.T) {
	text := func(test Test) string {
		r, err := Compute(test, Options{Working: true})
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		for _, s := range r.Working {
			b.WriteString(s.Label + "; " + s.Formula + "\n")
		}
		return b.String()
	}
	plain := text(bench())
	for _, absent := range []string{"mean of", "energy", "as measured", "heating", "degrees of freedom", "scatter", "Student"} {
		if strings.Contains(plain, absent) {
			t.Errorf("a plain test's working has %q:\n%s", absent, plain)
		}
	}
	full := bench()
	full.OpenV, full.LoadedV = []float64{12.84, 12.83}, []float64{12.71, 12.71}
	full.LoadTolerancePct, full.LoadUncertaintyOhm = nil, ptr(0.02)
	full.LoadTempcoPpmK, full.LoadRiseK, full.ReadAfterS = ptr(100), ptr(20), ptr(5)
	full.LeadUncertaintyOhm = ptr(0.01)
	all := text(full)
	for _, present := range []string{"mean of 2", "energy", "as measured", "heating", "degrees of freedom", "scatter", "Student", "leads"} {
		if !strings.Contains(all, present) {
			t.Errorf("the working has no %q:\n%s", present, all)
		}
	}
}

// TestGainOnTheBoard: the line that shows that the gain cancels is an equation
// whose two sides agree, for any gain; without a gain error there is no line.
func TestGainOnTheBoard(t *testing.T) {
	find := func(test Test) *Step {
		r, err := Compute(test, Options{Working: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range r.Working {
			if strings.HasPrefix(s.Label, "gain of the meter") {
				return &s
			}
		}
		return nil
	}
	two := Test{Method: TwoLoads, Loaded1V: []float64{12.76}, Load1Ohm: 22, Loaded2V: []float64{12.33}, Load2Ohm: 2.7, LoadTolerancePct: ptr(2), Meter: dmm}
	for _, test := range []Test{bench(), two} {
		s := find(test)
		if s == nil {
			t.Fatalf("%s: no line", test.Method)
		}
		var g1, a, g2, b, want float64
		unit := "V"
		if test.Method == TwoLoads {
			unit = "A"
		}
		if _, err := fmt.Sscanf(s.Numbers, "(%f·%f V) / (%f·%f "+unit+")", &g1, &a, &g2, &b); err != nil {
			t.Errorf("%s: %v in %q", test.Method, err, s.Numbers)
		}
		fmt.Sscanf(s.Result, "%f", &want)
		if g1 != 1.005 || g2 != g1 || !near((g1*a)/(g2*b), want, 1e-4) || !strings.HasSuffix(s.Result, ", whatever g is") {
			t.Errorf("%s: %+v", test.Method, s)
		}
		test.Meter.ReadingPct = 0
		if s := find(test); s != nil {
			t.Errorf("no gain error, and yet %+v", s)
		}
	}
}

// TestLinesAreToldApart: no two lines of a budget and no two steps of
// a working have the same name, also where there are two loads.
func TestLinesAreToldApart(t *testing.T) {
	for _, c := range simulated {
		r, err := Compute(c.test, Options{Working: true})
		if err != nil {
			t.Fatal(err)
		}
		names := map[string]bool{}
		once := func(name string) {
			if names[name] {
				t.Errorf("%s: %q is there twice", c.name, name)
			}
			names[name] = true
		}
		for _, l := range r.Budget {
			once("budget: " + l.Source)
		}
		for _, s := range r.Working {
			once(s.Label)
		}
	}
}

// TestSensitivityUnit: a sensitivity times its quantity's unit is ohm.
func TestSensitivityUnit(t *testing.T) {
	for unit, want := range map[string]string{"V": "Ω/V", "A": "Ω/A", "Ω": "", "": "Ω"} {
		if got := (BudgetLine{Unit: unit}).SensitivityUnit(); got != want {
			t.Errorf("per %q: %q, want %q", unit, got, want)
		}
	}
}
