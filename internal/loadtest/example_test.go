package loadtest_test

import (
	"fmt"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// A load test and its working, as on a blackboard.
func ExampleCompute() {
	tolerance := 5.0
	test := loadtest.Test{
		Method:           loadtest.KnownLoad,
		OpenV:            []float64{12.84},
		LoadedV:          []float64{12.71},
		LoadOhm:          10,
		LoadTolerancePct: &tolerance,
		Meter:            loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
	}
	r, err := loadtest.Compute(test, loadtest.Options{Working: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range r.Working {
		fmt.Printf("%s: %s = %s = %s\n", s.Label, s.Formula, s.Numbers, s.Result)
	}
	// Output:
	// open-circuit voltage: V0 = as read = 12.84 V
	// voltage on load: V1 = as read = 12.71 V
	// sag: ΔV = V0 − V1 = 12.84 V − 12.71 V = 0.13 V
	// current through the load: I = V1 / (R_L + r_w) = 12.71 V / (10 Ω + 0 Ω) = 1.271 A
	// resistance of the pack: R = ΔV / I = 0.13 V / 1.271 A = 0.10228 Ω
	// the same in one line: R = (R_L + r_w) · (V0 / V1 − 1) = (10 Ω + 0 Ω) · (12.84 V / 12.71 V − 1) = 0.10228 Ω
	// power in the load: P = I² · R_L = (1.271 A)² · 10 Ω = 16.154 W
	// last digits of the display, each reading: u = n · d / √3 = 2 · 0.01 V / √3 = 0.01155 V
	// gain of the meter, off by 0.5 %, cancels: (g·V0) / (g·V1) = V0 / V1 = (1.005·12.84 V) / (1.005·12.71 V) = 1.01023, whatever g is
	// tolerance of the load: u(R_L) = R_L · a / √3 = 10 Ω · 5 % / √3 = 0.2887 Ω
	// in R: display of the meter, open reading: u1 = (R_L + r_w) / V1 · u(V0) = 0.7868 Ω/V · 0.01155 V = 0.009085 Ω
	// in R: display of the meter, reading on load: u2 = (R_L + r_w) · V0 / V1² · u(V1) = 0.7948 Ω/V · 0.01155 V = 0.009178 Ω
	// in R: tolerance of the load: u3 = (V0 / V1 − 1) · u(R_L) = 0.01023 · 0.2887 Ω = 0.002953 Ω
	// standard uncertainty: u(R) = √(u1² + u2² + u3²) = √((0.009085 Ω)² + (0.009178 Ω)² + (0.002953 Ω)²) = 0.01325 Ω
	// coverage factor for 95 %, normal distribution: k = t95(ν) = t95(∞) = 1.96
	// expanded uncertainty: U = k · u(R) = 1.96 · 0.01325 Ω = 0.02596 Ω
	// result, 95 %: R ± U = 0.10228 Ω ± 0.02596 Ω = 0.102 Ω ± 0.026 Ω
}

// What a set-up can tell, before anything is connected.
func ExampleCheckSetup() {
	tolerance := 5.0
	c, err := loadtest.CheckSetup(loadtest.Setup{
		Meter: loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
		Load:  loadtest.Load{Ohm: 10, TolerancePct: &tolerance, RatingW: 25},
		FuseA: 20, OpenV: 12.8, LimitOhm: 0.1, Repeats: 3, ReadAfterS: 5,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("safe to connect:", c.OK)
	fmt.Println(measure.ShowRough(c.CurrentA, "A"), measure.ShowRough(c.PowerW, "W"),
		"on for at most", measure.ShowRough(*c.LongestS, "s"), "then wait", measure.ShowRough(c.PauseS, "s"))
	fmt.Println(c.BestChange)
	// Output:
	// safe to connect: true
	// 1.3 A 16 W on for at most 15 s then wait 60 s
	// use a meter with one more digit (1 mV): the uncertainty falls from 0.027 Ω to 0.0062 Ω, 6.2 % of the limit
}

// Impossible readings are refused in words.
func ExampleCompute_implausible() {
	test := loadtest.Test{
		Method: loadtest.KnownLoad, OpenV: []float64{12840}, LoadedV: []float64{12710}, LoadOhm: 10,
		Meter: loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
	}
	_, err := loadtest.Compute(test, loadtest.Options{})
	fmt.Println(err)
	// Output: 12840 V is more than 10 cells can show (16 V)
}
