package loadtest

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// dmm is a plain hand-held meter on its 20 V range.
var dmm = Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}

// bench is the test of the examples: 12.84 V, 12.71 V on 10 Ω.
func bench() Test {
	return Test{Method: KnownLoad, OpenV: []float64{12.84}, LoadedV: []float64{12.71}, LoadOhm: 10, LoadTolerancePct: ptr(5), Meter: dmm}
}

func near(got, want, relative float64) bool { return math.Abs(got-want) <= relative*math.Abs(want) }

func mustCompute(t *testing.T, test Test) Result {
	t.Helper()
	r, err := Compute(test, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestKnownLoad works the example by hand: R = 10·(12.84/12.71 − 1), and the
// three contributions 10/12.71·0.02/√3, 10·12.84/12.71²·0.02/√3 and
// (12.84/12.71 − 1)·0.5/√3.
func TestKnownLoad(t *testing.T) {
	r := mustCompute(t, bench())
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"R", r.ResistanceOhm, 0.102281668},
		{"u", r.StandardUncertaintyOhm, math.Sqrt(0.0090850*0.0090850 + 0.0091779*0.0091779 + 0.0029526*0.0029526)},
		{"k", r.CoverageFactor, 1.959963985},
		{"U", r.ExpandedUncertaintyOhm, 0.0259638},
		{"I", *r.CurrentA, 1.271},
		{"sag", *r.SagV, 0.13},
		{"P", *r.LoadPowerW, 16.15441},
	} {
		if !near(c.got, c.want, 2e-5) {
			t.Errorf("%s = %.8g, want %.8g", c.name, c.got, c.want)
		}
	}
	if r.DegreesOfFreedom != nil || r.LoadEnergyJ != nil || r.BoundOnly || r.Repeats != 1 || r.Working != nil {
		t.Errorf("unexpected: %+v", r)
	}
}

// TestEnergyAndLead: energy up to the reading second, in the resistor only.
func TestEnergyAndLead(t *testing.T) {
	one := bench()
	one.LeadOhm, one.ReadAfterS = 0.1, ptr(5)
	r := mustCompute(t, one)
	i := 12.71 / 10.1
	if !near(*r.CurrentA, i, 1e-12) || !near(*r.LoadPowerW, i*i*10, 1e-12) || !near(*r.LoadEnergyJ, i*i*50, 1e-12) {
		t.Errorf("I %g A, P %g W, E %g J", *r.CurrentA, *r.LoadPowerW, *r.LoadEnergyJ)
	}
	if !near(r.ResistanceOhm, 10.1*(12.84/12.71-1), 1e-12) {
		t.Errorf("R = %g Ω", r.ResistanceOhm)
	}
}

// TestUnknownIsNull: what a method or a record does not tell travels as null, and
// what is nought as 0.
func TestUnknownIsNull(t *testing.T) {
	two := Test{Method: TwoLoads, Loaded1V: []float64{12.77}, Loaded2V: []float64{12.34}, Load1Ohm: 22, Load2Ohm: 2.7, Meter: dmm, ReadAfterS: ptr(0)}
	r := mustCompute(t, two)
	if r.OpenV != nil || r.LoadedV == nil || r.SagV == nil || r.CurrentA == nil || r.LoadPowerW == nil || r.LoadEnergyJ == nil || *r.LoadEnergyJ != 0 {
		t.Errorf("two loads, read at once: %+v", r)
	}
	d, err := ComputeDirect(Direct{Method: DirectDC, ResistanceOhm: []float64{0.1}, ResolutionOhm: 0.001}, Options{})
	if err != nil || d.OpenV != nil || d.LoadedV != nil || d.SagV != nil || d.CurrentA != nil || d.LoadPowerW != nil || d.LoadEnergyJ != nil {
		t.Errorf("a direct reading: %+v, %v", d, err)
	}
}

// TestMethodsAgree: readings of one pack, made by its equation, give its
// resistance by every method.
func TestMethodsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pack := rapid.Float64Range(0.03, 0.4).Draw(t, "pack")
		open := rapid.Float64Range(12.5, 14).Draw(t, "open")
		small := rapid.Float64Range(2, 5).Draw(t, "small load")
		large := rapid.Float64Range(8, 30).Draw(t, "large load")
		lead := rapid.Float64Range(0, 0.2).Draw(t, "lead")
		on := func(load float64) []float64 { return []float64{open * (load + lead) / (load + lead + pack)} }
		current := []float64{on(small)[0] / (small + lead)}
		for _, test := range []Test{
			{Method: KnownLoad, OpenV: []float64{open}, LoadedV: on(small), LoadOhm: small, LeadOhm: lead, Meter: dmm},
			{Method: TwoLoads, Loaded1V: on(large), Load1Ohm: large, Loaded2V: on(small), Load2Ohm: small, LeadOhm: lead, Meter: dmm},
			{Method: TwoLoads, Loaded1V: on(small), Load1Ohm: small, Loaded2V: on(large), Load2Ohm: large, LeadOhm: lead, Meter: dmm},
			{Method: MeasuredCurrent, OpenV: []float64{open}, LoadedV: on(small), CurrentA: current, Meter: dmm},
		} {
			r, err := Compute(test, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if !near(r.ResistanceOhm, pack, 1e-9) || !near(*r.CurrentA, current[0], 1e-9) {
				t.Fatalf("%s: %.12g Ω at %g A, want %.12g Ω at %g A", test.Method, r.ResistanceOhm, *r.CurrentA, pack, current[0])
			}
		}
	})
}

// TestSensitivities: every ∂R/∂x of every budget is the slope found by moving
// that input a little.
func TestSensitivities(t *testing.T) {
	for _, c := range simulated {
		budget := mustCompute(t, c.test).Budget
		moved := func(quantity string, h float64) float64 {
			test := c.test
			bump := func(list *[]float64) { *list = []float64{(*list)[0] + h} }
			switch {
			case quantity == "V0":
				bump(&test.OpenV)
			case quantity == "V1" && test.Method == TwoLoads:
				bump(&test.Loaded1V)
			case quantity == "V1":
				bump(&test.LoadedV)
			case quantity == "V2":
				bump(&test.Loaded2V)
			case quantity == "R_L" || quantity == "δR_L":
				test.LoadOhm += h
			case quantity == "R_1":
				test.Load1Ohm += h
			case quantity == "R_2":
				test.Load2Ohm += h
			case quantity == "r_w":
				test.LeadOhm += h
			case quantity == "I":
				bump(&test.CurrentA)
			case quantity == "g":
				for _, list := range []*[]float64{&test.OpenV, &test.LoadedV, &test.Loaded1V, &test.Loaded2V} {
					if len(*list) > 0 {
						*list = []float64{(*list)[0] * (1 + h)}
					}
				}
			default:
				t.Fatalf("%s: no such input %q", c.name, quantity)
			}
			return modelOf(&test).resistance
		}
		for _, l := range budget {
			const h = 1e-6
			slope := (moved(l.Quantity, h) - moved(l.Quantity, -h)) / (2 * h)
			if math.Abs(slope-l.Sensitivity) > 1e-6 {
				t.Errorf("%s: ∂R/∂%s = %.8g, found %.8g", c.name, l.Quantity, l.Sensitivity, slope)
			}
		}
	}
}

// TestBudgetAddsUp: shares make 100 %, and the lines give u and ν.
func TestBudgetAddsUp(t *testing.T) {
	repeats := bench()
	repeats.OpenV, repeats.LoadedV = []float64{12.84, 12.84, 12.83}, []float64{12.71, 12.70, 12.71}
	repeats.LeadOhm, repeats.LeadUncertaintyOhm = 0.02, ptr(0.005)
	r := mustCompute(t, repeats)
	share, variance, fourth := 0.0, 0.0, 0.0
	for _, l := range r.Budget {
		share += l.SharePct
		variance += l.ContributionOhm * l.ContributionOhm
		if l.DegreesOfFreedom != nil {
			fourth += math.Pow(l.ContributionOhm, 4) / *l.DegreesOfFreedom
		}
		if !near(l.ContributionOhm, math.Abs(l.Sensitivity)*l.StdUnc, 1e-12) && l.ContributionOhm != 0 {
			t.Errorf("%s: %g is not |%g| · %g", l.Source, l.ContributionOhm, l.Sensitivity, l.StdUnc)
		}
	}
	if !near(share, 100, 1e-9) || !near(math.Sqrt(variance), r.StandardUncertaintyOhm, 1e-12) {
		t.Errorf("shares add to %g %%, contributions to %g of %g Ω", share, math.Sqrt(variance), r.StandardUncertaintyOhm)
	}
	if r.DegreesOfFreedom == nil || !near(*r.DegreesOfFreedom, variance*variance/fourth, 1e-9) {
		t.Errorf("ν = %v, want %g", r.DegreesOfFreedom, variance*variance/fourth)
	}
	if r.Budget[0].Source != Scatter || *r.Budget[0].DegreesOfFreedom != 2 {
		t.Errorf("first line %+v is not the scatter of three", r.Budget[0])
	}
}

// TestOneReadingHasNoScatter: it is left out and said, not taken as zero; equal
// repeats do show a scatter, of nought.
func TestOneReadingHasNoScatter(t *testing.T) {
	one := mustCompute(t, bench())
	if hasLine(one, Scatter) || !warned(one, OneReading) {
		t.Errorf("one reading: budget %+v, warnings %+v", one.Budget, one.Warnings)
	}
	test := bench()
	test.OpenV, test.LoadedV = []float64{12.84, 12.84}, []float64{12.71, 12.71}
	two := mustCompute(t, test)
	if !hasLine(two, Scatter) || warned(two, OneReading) || two.DegreesOfFreedom != nil {
		t.Errorf("equal repeats: budget %+v, warnings %+v", two.Budget, two.Warnings)
	}
}

func hasLine(r Result, source string) bool {
	return slices.ContainsFunc(r.Budget, func(l BudgetLine) bool { return l.Source == source })
}

func warned(r Result, code string) bool {
	return slices.ContainsFunc(r.Warnings, func(w Warning) bool { return w.Code == code })
}

// TestDisplayNeverVanishes: a meter said to have no counts still rounds away
// half of its last digit, and counts do not average out.
func TestDisplayNeverVanishes(t *testing.T) {
	u := func(counts float64, n int) float64 {
		test := bench()
		test.Meter.Counts = counts
		test.OpenV, test.LoadedV = slices.Repeat(test.OpenV, n), slices.Repeat(test.LoadedV, n)
		r := mustCompute(t, test)
		return r.Budget[slices.IndexFunc(r.Budget, func(l BudgetLine) bool { return l.Quantity == "V0" })].StdUnc
	}
	if got := u(0, 1); !near(got, 0.005/math.Sqrt(3), 1e-12) || u(math.Nextafter(0.5, 0), 1) != got || u(0.5, 1) != got {
		t.Errorf("no counts: u = %g V", got)
	}
	if u(math.Nextafter(0.5, 1), 1) <= u(0.5, 1) || u(1, 1) != 2*u(0, 1) {
		t.Error("above half a count the meter's counts do not rule")
	}
	if u(2, 5) != u(2, 1) {
		t.Errorf("five readings brought the display's part from %g to %g V", u(2, 1), u(2, 5))
	}
}

// TestAssumptions: what is not given is assumed and said.
func TestAssumptions(t *testing.T) {
	test := bench()
	given := mustCompute(t, test)
	test.LoadTolerancePct = nil
	r := mustCompute(t, test)
	if !warned(r, ToleranceAssumed) || warned(given, ToleranceAssumed) || r.StandardUncertaintyOhm != given.StandardUncertaintyOhm {
		t.Errorf("±5 %% is not assumed: u = %g, given %g; %v", r.StandardUncertaintyOhm, given.StandardUncertaintyOhm, r.Warnings)
	}
	current := Test{Method: MeasuredCurrent, OpenV: []float64{12.84}, LoadedV: []float64{12.71}, CurrentA: []float64{1.27}, Meter: dmm}
	r = mustCompute(t, current)
	current.CurrentPct = ptr(2)
	given = mustCompute(t, current)
	if !warned(r, AccuracyAssumed) || warned(given, AccuracyAssumed) || r.StandardUncertaintyOhm != given.StandardUncertaintyOhm {
		t.Errorf("±2 %% is not assumed: u = %g, given %g", r.StandardUncertaintyOhm, given.StandardUncertaintyOhm)
	}
}

// TestBound: a sag of less than one count only bounds R; one count is a sag,
// whichever way its decimals round in binary.
func TestBound(t *testing.T) {
	oneCount := bench()
	for _, v := range []float64{12.84, 12.83, 13.07, 12.29} {
		oneCount.OpenV, oneCount.LoadedV = []float64{v}, []float64{math.Round(100*v-1) / 100}
		if r := mustCompute(t, oneCount); r.BoundOnly {
			t.Errorf("%g V to %g V is called less than a count", v, oneCount.LoadedV[0])
		}
	}
	mixed := bench()
	mixed.OpenV, mixed.LoadedV = []float64{12.84, 12.84}, []float64{12.84, 12.83}
	r := mustCompute(t, mixed)
	if !r.BoundOnly || !warned(r, SagBelowDisplay) || !near(*r.UpperBoundOhm, r.ResistanceOhm+r.ExpandedUncertaintyOhm, 1e-15) {
		t.Errorf("half a count: %+v", r)
	}

	// The edge itself: the last float that is a sag, and the next.
	edge := bench()
	edge.Meter.ResolutionV, edge.OpenV = 0.5, []float64{13}
	least := 0.5 * (1 - sameCount)
	last := 13 - least
	if 13-last < least {
		last = math.Nextafter(last, 0)
	}
	edge.LoadedV = []float64{last}
	if mustCompute(t, edge).BoundOnly {
		t.Error("at the edge it is a sag")
	}
	edge.LoadedV = []float64{math.Nextafter(last, 13)}
	if !mustCompute(t, edge).BoundOnly {
		t.Error("one float beyond the edge it is a bound")
	}
}

func TestDirect(t *testing.T) {
	d := Direct{Method: DirectDC, ResistanceOhm: []float64{0.112, 0.114, 0.113}, AccuracyPct: 2, Counts: 5, ResolutionOhm: 0.001}
	r, err := ComputeDirect(d, Options{Working: true})
	if err != nil {
		t.Fatal(err)
	}
	u := math.Sqrt(0.001*0.001/3 + math.Pow(0.113*0.02, 2)/3 + 0.005*0.005/3)
	if !near(r.ResistanceOhm, 0.113, 1e-12) || !near(r.StandardUncertaintyOhm, u, 1e-9) || r.Repeats != 3 || len(r.Working) == 0 {
		t.Errorf("R = %g Ω, u = %g Ω, want 0.113 and %g", r.ResistanceOhm, r.StandardUncertaintyOhm, u)
	}
	if want := 2 * math.Pow(u, 4) / math.Pow(0.001/math.Sqrt(3), 4); r.DegreesOfFreedom == nil || !near(*r.DegreesOfFreedom, want, 1e-9) {
		t.Errorf("ν = %v, want %g", r.DegreesOfFreedom, want)
	}
	if warned(r, NotComparableAC) {
		t.Error("a d.c. reading is called a.c.")
	}
	d.Method, d.OpenV = DirectAC, ptr(10.9)
	r, err = ComputeDirect(d, Options{})
	if err != nil || !warned(r, NotComparableAC) || !warned(r, TooLow) || *r.OpenV != 10.9 {
		t.Errorf("a.c. reading of an empty pack: %+v, %v", r.Warnings, err)
	}
	d.ResistanceOhm = []float64{0, 0.001, 0}
	if r, err = ComputeDirect(d, Options{}); err != nil || !r.BoundOnly {
		t.Errorf("a third of a count is not a bound: %+v, %v", r, err)
	}
}

// TestOrderOfRepeatsDoesNotMatter: pairs may be shuffled together.
func TestOrderOfRepeatsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "n")
		test := bench()
		test.OpenV, test.LoadedV = nil, nil
		for range n {
			test.OpenV = append(test.OpenV, 12.84+float64(rapid.IntRange(-2, 2).Draw(t, "V0"))/100)
			test.LoadedV = append(test.LoadedV, 12.5+float64(rapid.IntRange(-2, 2).Draw(t, "V1"))/100)
		}
		a, err := Compute(test, Options{})
		slices.Reverse(test.OpenV)
		slices.Reverse(test.LoadedV)
		b, err2 := Compute(test, Options{})
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if !near(a.ResistanceOhm, b.ResistanceOhm, 1e-12) || !near(a.ExpandedUncertaintyOhm, b.ExpandedUncertaintyOhm, 1e-9) {
			t.Fatalf("%v ± %v became %v ± %v", a.ResistanceOhm, a.ExpandedUncertaintyOhm, b.ResistanceOhm, b.ExpandedUncertaintyOhm)
		}
	})
}

// TestComputeLeavesItsInputAlone: the larger load is put first in a copy.
func TestComputeLeavesItsInputAlone(t *testing.T) {
	test := Test{Method: TwoLoads, Loaded1V: []float64{12.3}, Load1Ohm: 2.7, Loaded2V: []float64{12.7}, Load2Ohm: 22, Meter: dmm}
	mustCompute(t, test)
	if test.Load1Ohm != 2.7 || test.Loaded1V[0] != 12.3 {
		t.Errorf("the record was changed: %+v", test)
	}
}

func BenchmarkCompute(b *testing.B) {
	test := bench()
	test.OpenV, test.LoadedV = []float64{12.84, 12.84, 12.83}, []float64{12.71, 12.70, 12.71}
	for _, working := range []bool{false, true} {
		name := "numbers"
		if working {
			name = "working"
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Compute(test, Options{Working: working}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
