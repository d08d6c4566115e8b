package loadtest

import (
	"math"
	"strings"
	"testing"

	"packwright/internal/problem"
)

// rig is a 10 Ω, 5 % resistor of 50 W on its heat sink, and a plain meter.
func rig() Setup {
	return Setup{
		Meter: dmm, Load: Load{Ohm: 10, TolerancePct: ptr(5), RatingW: 50, OnHeatSink: true},
		FuseA: 20, OpenV: 12.8, LimitOhm: 0.1, Repeats: 3, ReadAfterS: 5,
	}
}

func mustSetup(t *testing.T, s Setup) SetupCheck {
	t.Helper()
	c, err := CheckSetup(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func codes(list []Warning) string {
	var out []string
	for _, w := range list {
		out = append(out, w.Code)
	}
	return strings.Join(out, " ")
}

func TestSetupNumbers(t *testing.T) {
	s := rig()
	s.Load.LeadOhm = 0.2
	c := mustSetup(t, s)
	if i := 12.8 / 10.2; !near(c.CurrentA, i, 1e-12) || !near(c.PowerW, i*i*10, 1e-12) {
		t.Errorf("%g A, %g W", c.CurrentA, c.PowerW)
	}
	if !c.OK || c.LongestS != nil || c.PauseS != 60 || codes(c.Refusals) != "" || c.Refusals == nil {
		t.Errorf("15.7 W on a 50 W part on its heat sink: %+v", c)
	}
}

// TestThermalRule: 16.384 W, one float below and above what the load carries
// for good, with and without heat sink; and the energy rule beyond.
func TestThermalRule(t *testing.T) {
	power := mustSetup(t, rig()).PowerW
	for _, c := range []struct {
		sink    bool
		rating  float64
		longest *float64
	}{
		{true, power, nil},
		{true, math.Nextafter(power, 0), ptr(20)}, // 20 J for each watt of rating
		{false, 5 * power, nil},
		{false, 5 * power * (1 - 1e-12), ptr(50)}, // 10 J for each watt of rating
		{true, power / 2, ptr(10)},
		{false, power / 2, ptr(5)},
	} {
		s := rig()
		s.Load.RatingW, s.Load.OnHeatSink = c.rating, c.sink
		got := mustSetup(t, s).LongestS
		if (got == nil) != (c.longest == nil) || got != nil && !near(*got, *c.longest, 1e-9) {
			t.Errorf("heat sink %t, rating %g W: longest %v, want %v", c.sink, c.rating, got, c.longest)
		}
	}
}

func TestPause(t *testing.T) {
	s := rig()
	s.Load.RatingW, s.Load.OnHeatSink = 15, false // 3 W for good; 16.384 W for 8 s
	if got := mustSetup(t, s).PauseS; got != 60 {
		t.Errorf("pause %g s, want the minute the pack needs", got)
	}
	s.Load.RatingW = 5 // 1 W for good; on for the 3.05 s it stands at most
	want := 5 * math.Ceil(max(60, 16.384*(50/16.384)-50/16.384)/5)
	if got := mustSetup(t, s).PauseS; got != want {
		t.Errorf("pause %g s, want %g s", got, want)
	}
	s.Load.OnHeatSink = true
	s.ReadAfterS, s.Load.RatingW = 60, 10 // 12.2 s at 16.384 W against 10 W: 7.8 s, below the minute
	if got := mustSetup(t, s).PauseS; got != 60 {
		t.Errorf("pause %g s", got)
	}
}

func TestSetupRefusals(t *testing.T) {
	change := func(f func(s *Setup)) Setup { s := rig(); f(&s); return s }
	power := mustSetup(t, rig()).PowerW
	cases := []struct {
		name  string
		setup Setup
		want  string
	}{
		{"at the fuse", change(func(s *Setup) { s.FuseA = 1.28 }), ""},
		{"above the fuse", change(func(s *Setup) { s.FuseA = math.Nextafter(1.28, 0) }), SetupAboveFuse},
		{"no fuse given", change(func(s *Setup) { s.FuseA = 0 }), ""},
		{"five times the rating", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = power/5, 1 }), ""},
		{"beyond five times", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = math.Nextafter(power/5, 0)*(1-1e-15), 0.9 }), SetupAboveLoad},
		{"read in time", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = power/2, 7 }), ""},
		{"read too late", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = power/2, math.Nextafter(10, 11)-3 }), SetupTooLong},
		{"rating unknown, at 5 s", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = 0, 2 }), ""},
		{"rating unknown, beyond 5 s", change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = 0, math.Nextafter(5, 6)-3 }), SetupRatingUnknown},
		{"rating unknown, usual second", change(func(s *Setup) { s.Load.RatingW = 0 }), SetupRatingUnknown},
		{"short circuit", change(func(s *Setup) { s.Load.Ohm = 0.1 }), SetupAboveFuse + " " + SetupAboveLoad + " " + SetupTooLong},
	}
	for _, c := range cases {
		got := mustSetup(t, c.setup)
		if codes(got.Refusals) != c.want || got.OK != (c.want == "") {
			t.Errorf("%s: refusals %q (OK %t), want %q", c.name, codes(got.Refusals), got.OK, c.want)
		}
	}
}

// TestUnknownRatingWords: of a part of unknown rating nothing is claimed, and the
// hint is one that helps.
func TestUnknownRatingWords(t *testing.T) {
	s := rig()
	s.Load.RatingW = 0
	if got := mustSetup(t, s).Refusals; len(got) != 1 ||
		got[0].Text != "the load's rating is not given, so nobody can say how long it stands 16 W; such a load is kept on for 5 s at most, and with 3 s to read and disconnect it is on for 8 s" ||
		got[0].Hint != "read the rating off the part and enter it; until then read after 2 s at most" {
		t.Errorf("%+v", got)
	}
	s.ReadAfterS = 2
	for _, fuse := range []float64{20, 1} { // the warning stays where something else is refused
		s.FuseA = fuse
		if got := mustSetup(t, s); got.OK != (fuse == 20) || got.Warnings[0].Hint != "read it off the part and enter it; until then keep it on for 5 s at most" {
			t.Errorf("fuse %g A: %+v", fuse, got)
		}
	}
}

func TestSetupWarnings(t *testing.T) {
	change := func(f func(s *Setup)) Setup {
		s := rig()
		s.Load.Ohm = 2.7
		s.Load.TolerancePct = ptr(1)
		f(&s)
		return s
	}
	cases := []struct {
		setup Setup
		want  string
	}{
		{change(func(s *Setup) {}), SetupHot},
		{change(func(s *Setup) { s.FuseA = 0 }), SetupFuseUnknown + " " + SetupHot},
		{change(func(s *Setup) { s.Load.RatingW, s.ReadAfterS = 0, 2 }), SetupRatingUnknown + " " + SetupHot},
		{change(func(s *Setup) { s.Load.RatingW = 0 }), SetupHot}, // the refusal says it
		{change(func(s *Setup) { s.Load.OnHeatSink = false }), SetupNoHeatSink + " " + SetupHot},
		{change(func(s *Setup) { s.Load.TolerancePct = nil }), SetupHot + " " + ToleranceAssumed},
		{change(func(s *Setup) { s.Repeats = 1 }), SetupHot + " " + OneReading},
		{change(func(s *Setup) { s.Load.Ohm = 10 }), SetupHot + " " + SetupCoarse},
	}
	for _, c := range cases {
		if got := codes(mustSetup(t, c.setup).Warnings); got != c.want {
			t.Errorf("%+v: %q, want %q", c.setup.Load, got, c.want)
		}
	}
}

// TestPredictionIsMet: U foretold for a pack at the limit is U of a test of
// such a pack whose repeats scatter as assumed.
func TestPredictionIsMet(t *testing.T) {
	for _, ohm := range []float64{10, 2.7} {
		s := rig()
		s.Load.Ohm = ohm
		foretold := mustSetup(t, s).UAtLimitOhm
		// Three readings with standard deviation 0.01/√3: mean, and mean ± 0.01/√3.
		test := Test{Method: KnownLoad, LoadOhm: ohm, LoadTolerancePct: ptr(5), Meter: dmm}
		loaded, d := 12.8*ohm/(ohm+0.1), 0.01/math.Sqrt(3)
		// Uncorrelated by construction: the products of the deviations add to 0.
		h := d / 2 * math.Sqrt(1.0/3)
		test.OpenV = []float64{12.8 - d, 12.8, 12.8 + d}
		test.LoadedV = []float64{loaded + 2*h, loaded - 4*h, loaded + 2*h}
		r := mustCompute(t, test)
		// √(4+16+4)·h / √2 = 2·d/2 = d: the same scatter in both lists.
		if !near(foretold, r.ExpandedUncertaintyOhm, 2e-3) {
			t.Errorf("%g Ω: foretold %.5g Ω, found %.5g Ω", ohm, foretold, r.ExpandedUncertaintyOhm)
		}
	}
}

// TestBestChange: the advice is the best of the changes, and what it promises
// is what that change brings.
func TestBestChange(t *testing.T) {
	cases := []struct {
		name   string
		change func(s *Setup)
		want   string
	}{
		{"coarse display", func(s *Setup) {},
			"use a meter with one more digit (1 mV): the uncertainty falls from 0.027 Ω to 0.0062 Ω, 6.2 % of the limit"},
		{"coarse resistor", func(s *Setup) { s.Load.Ohm, s.Meter.ResolutionV, s.Load.TolerancePct = 2.5, 0.001, ptr(10) },
			"measure the load to ±1 %: the uncertainty falls from 0.011 Ω to 0.0013 Ω, 1.3 % of the limit"},
		{"gentle resistor", func(s *Setup) { s.Load.Ohm, s.Load.TolerancePct = 100, ptr(1) },
			"use a load of 3.3 Ω (3.9 A, 50 W): the uncertainty falls from 0.26 Ω to 0.0091 Ω, 9.1 % of the limit"},
		{"good enough", func(s *Setup) { s.Load.Ohm, s.Load.TolerancePct = 2.5, ptr(1) }, ""},
	}
	for _, c := range cases {
		s := rig()
		c.change(&s)
		if got := mustSetup(t, s).BestChange; got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestAdviceIsSafe: a smaller load is never advised that would itself be refused.
func TestAdviceIsSafe(t *testing.T) {
	for _, fuse := range []float64{0, 1, 2, 3, 5, 10, 20} {
		for _, rating := range []float64{5, 10, 25, 50, 100} {
			for _, sink := range []bool{false, true} {
				s := rig()
				s.Load.Ohm, s.FuseA, s.Load.RatingW, s.Load.OnHeatSink = 22, fuse, rating, sink
				for _, changed := range smallerLoads(s) {
					if c := mustSetup(t, changed); !c.OK {
						t.Errorf("fuse %g A, %g W, heat sink %t: %g Ω is refused: %s", fuse, rating, sink, changed.Load.Ohm, codes(c.Refusals))
					}
				}
			}
		}
	}
}

func TestSetupCheckErrors(t *testing.T) {
	cases := map[string]func(s *Setup){
		"load.ohm":             func(s *Setup) { s.Load.Ohm = 0 },
		"load.tolerance_pct":   func(s *Setup) { s.Load.UncertaintyOhm = ptr(0.1) },
		"load.uncertainty_ohm": func(s *Setup) { s.Load.TolerancePct, s.Load.UncertaintyOhm = nil, ptr(-1) },
		"load.tempco_ppm_k":    func(s *Setup) { s.Load.TempcoPpmK = ptr(math.NaN()) },
		"load.lead_ohm":        func(s *Setup) { s.Load.LeadOhm = -1 },
		"load.rating_w":        func(s *Setup) { s.Load.RatingW = -1 },
		"fuse_a":               func(s *Setup) { s.FuseA = -1 },
		"open_v":               func(s *Setup) { s.OpenV = 0 },
		"limit_ohm":            func(s *Setup) { s.LimitOhm = 0 },
		"repeats":              func(s *Setup) { s.Repeats = 0 },
		"read_after_s":         func(s *Setup) { s.ReadAfterS = math.Inf(1) },
		"meter.resolution_v":   func(s *Setup) { s.Meter.ResolutionV = 0 },
	}
	for field, change := range cases {
		s := rig()
		change(&s)
		if _, err := CheckSetup(s); err == nil {
			t.Errorf("%s: accepted", field)
		} else if p, ok := problem.As(err); !ok || p.Field != field || p.Hint == "" {
			t.Errorf("%s: %+v", field, p)
		}
	}
}

// TestLoadRise: 16.384 W for 5 s into 50 · 0.6 J/K; unknown with the rating, and
// never more than a test can record.
func TestLoadRise(t *testing.T) {
	s := rig()
	s.Load.TempcoPpmK = ptr(100)
	if got := mustSetup(t, s).LoadRiseK; got == nil || !near(*got, 16.384*5/30, 1e-9) {
		t.Errorf("rise %v K", got)
	}
	// A test that takes it over has the heating in its budget.
	test := bench()
	test.LoadTempcoPpmK, test.LoadRiseK = s.Load.TempcoPpmK, mustSetup(t, s).LoadRiseK
	heated := false
	for _, l := range mustCompute(t, test).Budget {
		heated = heated || l.Source == "heating of the load" && l.ContributionOhm > 0
	}
	if !heated {
		t.Error("the heating is not in the budget")
	}
	s.Load.Ohm, s.Load.RatingW = 1, 1
	if c := mustSetup(t, s); c.OK || *c.LoadRiseK != 1000 {
		t.Errorf("a load that burns: %v K, OK %t", *c.LoadRiseK, c.OK)
	}
	s.Load.RatingW = 0
	if got := mustSetup(t, s).LoadRiseK; got != nil {
		t.Errorf("unknown rating: %g K", *got)
	}
}
