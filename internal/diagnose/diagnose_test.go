package diagnose

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"packwright/internal/cells"
	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

func examine(p Pack) Report { return Examine(p, sisters(5, len(p.Tests)), 0.1, Rules{}, nil) }

// worn is a level that rises by a share over n tests, with a scatter of 1 %.
func worn(level, rise float64, n int) []float64 {
	list := steady(rand.New(rand.NewPCG(8, 8)), level, n)
	for i := range list {
		list[i] *= 1 + rise*float64(i)/float64(n-1)
	}
	return list
}

func TestAgeing(t *testing.T) {
	is(t, "25 % in 14 weeks", examine(aPack("A", worn(0.08, 0.25, 15)...)), AgeingCells, Likely, false)
	is(t, "60 %, past what events bear", examine(aPack("A", worn(0.08, 0.6, 15)...)), AgeingCells, Plain, false)
	none(t, "3 %, which one pack repeats", examine(aPack("A", worn(0.08, 0.03, 15)...)))
	// Steadily up by chance: 2/n! of all orders, 1.7 % with five tests and 0.3 % with six.
	none(t, "five tests", examine(aPack("A", 0.080, 0.085, 0.090, 0.095, 0.100)))
	is(t, "six tests", examine(aPack("A", 0.080, 0.084, 0.088, 0.092, 0.096, 0.100)), AgeingCells, Likely, false)

	old := aPack("A", worn(0.08, 0.25, 15)...)
	old.Repairs = []Repair{{AtMS: onDay(7*14 - 1), Part: journal.RepairLead}}
	none(t, "a new lead before the latest test", examine(old))
	old.Repairs[0].Part = journal.RepairOther
	is(t, "a new label is no new baseline", examine(old), AgeingCells, Likely, false)

	long := aPack("A", worn(0.08, 0.4, 300)...)
	is(t, "more tests than are taken one by one", examine(long), AgeingCells, Likely, false)
}

// A room that grows colder from 24 to 16 °C makes every pack read higher: by the
// published ratio of a 6.5 Ah module at 1 and 26 °C, 2.6 % per °C.
func TestTemperatureIsNoAgeing(t *testing.T) {
	p := aPack("A", steady(rand.New(rand.NewPCG(9, 9)), 0.08, 15)...)
	for i := range p.Tests {
		c := 24 - 8*float64(i)/14
		p.Tests[i].TemperatureC = &c
		p.Tests[i].ResistanceOhm *= cells.ResistanceRatio(c)
	}
	none(t, "temperatures noted", examine(p))
	for i := range p.Tests {
		p.Tests[i].TemperatureC = nil
	}
	is(t, "temperatures not noted", examine(p), AgeingCells, Possible, false)
}

// warm brings a test to a temperature.
func warm(t *Test, c float64) {
	t.TemperatureC = &c
	t.ResistanceOhm *= cells.ResistanceRatio(c)
}

func TestNotReady(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for _, c := range []struct {
		what   string
		change func(*Test)
		found  bool
	}{
		{"rested as long as it takes", func(t *Test) { t.RestedMin = new(60.0) }, false},
		{"a little less", func(t *Test) { t.RestedMin = new(nextDown(60)) }, true},
		{"as warm as allowed", func(t *Test) { warm(t, 25) }, false},
		{"warmer", func(t *Test) { t.TemperatureC = new(nextUp(25)) }, true},
		{"as cold as allowed", func(t *Test) { warm(t, 15) }, false},
		{"colder", func(t *Test) { t.TemperatureC = new(nextDown(15)) }, true},
		{"not full", func(t *Test) { t.Charge = loadtest.ChargePartial }, true},
		{"nothing noted", func(t *Test) { t.Charge, t.RestedMin, t.TemperatureC = "", nil, nil }, false},
		{"half a volt low", func(t *Test) { t.OpenV = new(12.9) }, true},
		{"half a volt high", func(t *Test) { t.OpenV = new(13.9) }, true},
		{"0.3 V low", func(t *Test) { t.OpenV = new(13.1) }, false},
	} {
		for _, latest := range []bool{true, false} {
			p := aPack("A", steady(r, 0.08, 10)...)
			i := 6
			if latest {
				i = 9
			}
			c.change(&p.Tests[i])
			if report := examine(p); c.found {
				is(t, c.what, report, NotReady, Plain, !latest)
			} else {
				none(t, c.what, report)
			}
		}
	}
}

// A pack that is always tested in a warm hall compares with itself, and a team that
// has temperature corrected needs no range.
func TestUsualTemperature(t *testing.T) {
	always := func(c float64, tests int) Pack {
		p := aPack("A", steady(rand.New(rand.NewPCG(4, 4)), 0.08, tests)...)
		for i := range p.Tests {
			warm(&p.Tests[i], c)
		}
		return p
	}
	none(t, "always at 29 °C", examine(always(29, 10)))
	p := always(29, 10)
	p.Tests[6].TemperatureC = new(nextUp(34))
	is(t, "warmer than its others", examine(p), NotReady, Plain, true)
	p.Tests[6].TemperatureC = new(20.0)
	none(t, "in the range of all, though its others are not", examine(p))
	is(t, "two tests make nothing usual", examine(always(29, 2)), NotReady, Plain, false)

	hot := aPack("A", steady(rand.New(rand.NewPCG(4, 4)), 0.08, 10)...)
	hot.Tests[6].TemperatureC = new(38.0)
	is(t, "hot", examine(hot), NotReady, Plain, true)
	none(t, "hot, and corrected", Examine(hot, nil, 0.1, Rules{To20C: true}, nil))
}

func TestCapacityFade(t *testing.T) {
	check := func(c ...Capacity) Report {
		p := aPack("A", steady(rand.New(rand.NewPCG(4, 4)), 0.08, 6)...)
		p.Capacities = c
		return examine(p)
	}
	none(t, "the good share is reached", check(Capacity{SharePct: 77, PlusPct: 3, Reached: true, AtMS: 1, Entry: "c"}))
	is(t, "surely below it", check(Capacity{SharePct: nextDown(77), PlusPct: 3, Reached: true, AtMS: 1, Entry: "c"}), CapacityFade, Likely, false)
	is(t, "surely below its end", check(Capacity{SharePct: nextDown(57), PlusPct: 3, Reached: true, AtMS: 1, Entry: "c"}), CapacityFade, Plain, false)
	none(t, "not down to the stop voltage", check(Capacity{SharePct: 20, PlusPct: 3, AtMS: 1}))
	is(t, "fallen from what it was", check(Capacity{SharePct: 100, PlusPct: 5, Reached: true, AtMS: 1}, Capacity{SharePct: 82, PlusPct: 5, Reached: true, AtMS: 2, Entry: "c"}), CapacityFade, Possible, false)
	none(t, "the latest counts", check(Capacity{SharePct: 50, PlusPct: 5, Reached: true, AtMS: 1}, Capacity{SharePct: 90, PlusPct: 5, Reached: true, AtMS: 2}))
}

// 30 % in 30 days is the usual setting; sources say 10 to 35 % for ordinary cells.
func TestSelfDischarge(t *testing.T) {
	stored := func(days, putInAh float64, more ...Capacity) Report {
		p := aPack("A", steady(rand.New(rand.NewPCG(4, 4)), 0.08, 6)...)
		p.Capacities = more
		p.Charges = []Charge{{StartMS: onDay(0), AtMS: onDay(0.2), Full: true}, {StartMS: onDay(0.2 + days), AtMS: onDay(0.3 + days), Full: true, Stored: true, PutInAh: &putInAh}}
		return examine(p)
	}
	none(t, "20 % in 30 days", stored(30, 0.66))
	is(t, "60 % in 30 days", stored(30, 1.98), SelfDischarge, Likely, false)
	none(t, "the first days lose more than a month tells", stored(13.9, 1.5))
	none(t, "a capacity check emptied it", stored(30, 1.98, Capacity{AtMS: onDay(10), SharePct: 90, Reached: true}))

	packs := sisters(5, 8)
	for i := range packs {
		last := &packs[i].Tests[7]
		last.RestedMin, last.OpenV = new(20*1440.0), new(13.0)
	}
	packs[0].Tests[7].OpenV = new(12.5)
	report := Examine(packs[0], packs[1:], 0, Rules{}, nil)
	is(t, "half a volt below sisters that rested as long", report, SelfDischarge, Possible, false)
	none(t, "its sister", Examine(packs[1], packs, 0, Rules{}, nil))
}

func TestNextTest(t *testing.T) {
	next := func(p Pack) string {
		if n := examine(p).NextTest; n != nil && n.Why != "" {
			return n.Kind
		}
		return ""
	}
	r := rand.New(rand.NewPCG(5, 4))
	good := aPack("A", steady(r, 0.08, 8)...)
	few := aPack("A", steady(r, 0.08, 3)...)
	ageing := aPack("A", worn(0.08, 0.3, 15)...)
	checked := aPack("A", worn(0.08, 0.3, 15)...)
	checked.Capacities = []Capacity{{AtMS: onDay(80), SharePct: 90, Reached: true}}
	bad := aPack("A", slices.Concat(steady(r, 0.08, 5), steady(r, 0.11, 5))...)
	hot := aPack("A", steady(r, 0.08, 8)...)
	hot.Tests[7].TemperatureC = new(40.0)
	gone := aPack("A", steady(r, 0.08, 3)...)
	gone.Retired = true
	for _, c := range []struct {
		what string
		p    Pack
		want string
	}{{"good", good, ""}, {"few tests", few, DoLoadTest}, {"ageing", ageing, DoCapacity}, {"ageing and checked", checked, DoLoadTest}, {"contact", bad, DoWiggle}, {"hot", hot, DoLoadTest}, {"retired", gone, ""}} {
		if got := next(c.p); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}

// The constants of normal scatter and the quantile of chi-squared, against a
// general library.
func TestConstants(t *testing.T) {
	quartile := distuv.UnitNormal.Quantile(0.75)
	if math.Abs(perMAD-1/quartile) > 1e-4 || math.Abs(perRange-1/(math.Sqrt2*quartile)) > 1e-4 || math.Abs(medianPenalty-math.Sqrt(math.Pi/2)) > 1e-4 {
		t.Errorf("perMAD %v, perRange %v, medianPenalty %v", perMAD, perRange, medianPenalty)
	}
	for _, dof := range []float64{3, 6, 10, 30} {
		want := distuv.ChiSquared{K: dof}.Quantile(0.999)
		if got := chiSquared999(dof); math.Abs(got/want-1) > 0.02 { // Wilson and Hilferty: an approximation
			t.Errorf("chi-squared with %v: %v, want %v", dof, got, want)
		}
	}
	two := distuv.ChiSquared{K: 2}
	if got, want := two.Survival(2*withinSds*withinSds), 1.0/500; math.Abs(got-want) > 2e-4 {
		t.Errorf("three readings scatter so much with %v, want %v", got, want)
	}
}
