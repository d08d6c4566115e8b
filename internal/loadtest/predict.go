package loadtest

import (
	"fmt"
	"math"

	"packwright/internal/measure"
)

// Predict is what a test like t would report for a pack of packOhm ohm that
// shows openV volt without load: one reading of each kind is put in place of
// those in t, and the budget is worked out without asking whether such a pack
// is plausible. A measured current is taken as the one in t. Scatter is left
// to the caller. Errors are *problem.Error.
func Predict(t Test, openV, packOhm float64) (Result, error) {
	on := func(load float64) []float64 { return []float64{float64(openV*load) / (load + packOhm)} }
	switch t.Method {
	case KnownLoad:
		t.OpenV, t.LoadedV = []float64{openV}, on(t.LoadOhm+t.LeadOhm)
	case TwoLoads:
		t.Loaded1V, t.Loaded2V = on(t.Load1Ohm+t.LeadOhm), on(t.Load2Ohm+t.LeadOhm)
	case MeasuredCurrent:
		if len(t.CurrentA) > 0 {
			i := mean(t.CurrentA)
			t.OpenV, t.LoadedV, t.CurrentA = []float64{openV}, []float64{openV - float64(packOhm*i)}, []float64{i}
		}
	}
	if err := t.Check(); err != nil {
		return Result{}, err
	}
	t.order()
	m := modelOf(&t)
	return m.loadResult(t.Method), nil
}

// predict is the expanded uncertainty, in ohm, that a test of a pack at the
// limit will report with this set-up, and the voltage it will show on load.
// The scatter is not known beforehand: a display flickering by ±1 count is
// assumed (common practice, no source). With one reading the scatter will not
// be seen, but it is there, so it is counted as known.
func predict(s *Setup) (uOhm, loadedV float64, err error) {
	t := Test{
		Method: KnownLoad, Meter: s.Meter, LoadOhm: s.Load.Ohm, LoadTolerancePct: s.Load.TolerancePct,
		LoadUncertaintyOhm: s.Load.UncertaintyOhm, LoadTempcoPpmK: s.Load.TempcoPpmK, LeadOhm: s.Load.LeadOhm,
		LoadRiseK: heatingK(s),
	}
	r, err := Predict(t, s.OpenV, s.LimitOhm)
	if err != nil {
		return 0, 0, err
	}
	flicker := measure.Rectangular(0, s.Meter.ResolutionV)
	flicker.StdUnc /= math.Sqrt(float64(s.Repeats))
	if s.Repeats > 1 {
		flicker.DoF = float64(s.Repeats - 1)
	}
	sum := 0.0
	components := make([]measure.Component, 0, len(r.Budget)+1)
	for _, l := range r.Budget {
		components = append(components, l.Component())
		if l.Unit == "V" {
			sum += measure.Square(l.Sensitivity)
		}
	}
	components = append(components, measure.Component{Sensitivity: math.Sqrt(sum), StdUnc: flicker.StdUnc, DoF: flicker.DoF})
	uOhm, _ = measure.Expand(measure.Combine(components))
	return uOhm, *r.LoadedV, nil
}

// heatingK is how much the load's case warms until the reading, in kelvin, if
// all heat stays in it; nil where the rating is unknown.
func heatingK(s *Setup) *float64 {
	if s.Load.RatingW == 0 {
		return nil
	}
	power := float64(measure.Square(s.OpenV/(s.Load.Ohm+s.Load.LeadOhm)) * s.Load.Ohm)
	return ptr(min(mostRiseK, power*s.ReadAfterS/(heatCapacityJPerKW*s.Load.RatingW)))
}

// goodShare is the share of the limit, in percent, below which a set-up needs
// no improvement: one part in ten (common practice, no source).
const goodShare = 10

// UsualLoads are resistances in which power resistors are sold, in ohm,
// gentlest first (the E6 series of IEC 60063, from memory, and 2.5).
func UsualLoads() [10]float64 { return [10]float64{22, 15, 10, 6.8, 4.7, 3.3, 2.5, 2.2, 1.5, 1} }

// bestChange tries one change at a time and says in words which lowers the
// uncertainty most; empty where U is good enough or nothing helps by a tenth.
// Of the smaller loads that fuse and part stand it tries the gentlest that is
// good enough, or else the smallest.
func bestChange(s *Setup, now float64) string {
	good := s.LimitOhm * goodShare / 100
	if now <= good {
		return ""
	}
	best, words := now*0.9, ""
	try := func(changed *Setup, text string) float64 {
		u, _, err := predict(changed)
		if err == nil && u < best {
			best, words = u, text
		}
		return u
	}

	for _, smaller := range smallerLoads(*s) {
		current := smaller.OpenV / (smaller.Load.Ohm + smaller.Load.LeadOhm)
		power := measure.Square(current) * smaller.Load.Ohm
		u := try(&smaller, fmt.Sprintf("use a load of %s (%s, %s)", measure.Show(smaller.Load.Ohm, "Ω"),
			measure.ShowRough(current, "A"), measure.ShowRough(power, "W")))
		if u <= good {
			break
		}
	}
	measured := *s
	measured.Load.TolerancePct, measured.Load.UncertaintyOhm = nil, ptr(s.Load.Ohm*0.01/math.Sqrt(3))
	if before := s.Load.UncertaintyOhm; before == nil || *before > *measured.Load.UncertaintyOhm {
		try(&measured, "measure the load to ±1 %")
	}
	finer := *s
	finer.Meter.ResolutionV /= 10
	try(&finer, "use a meter with one more digit ("+measure.Show(finer.Meter.ResolutionV*1000, "mV")+")")
	for _, n := range []int{3, 5, 10} {
		if n > s.Repeats {
			more := *s
			more.Repeats = n
			try(&more, fmt.Sprintf("take %d readings", n))
		}
	}
	if words == "" {
		return ""
	}
	return fmt.Sprintf("%s: the uncertainty falls from %s to %s, %s of the limit", words,
		measure.ShowRough(now, "Ω"), measure.ShowRough(best, "Ω"), measure.ShowPercent(100*best/s.LimitOhm))
}

// smallerLoads are the set-ups with a usual load below the present one that
// fuse and part stand, gentlest first. A part of the same rating and known as
// well is assumed, of 50 W on a heat sink where the rating is unknown.
func smallerLoads(s Setup) []Setup {
	if s.Load.RatingW == 0 {
		s.Load.RatingW, s.Load.OnHeatSink = 50, true
	}
	if s.FuseA == 0 {
		s.FuseA = usualFuseA
	}
	var list []Setup
	for _, ohm := range UsualLoads() {
		if ohm >= s.Load.Ohm {
			continue
		}
		smaller := s
		smaller.Load.Ohm = ohm
		if before := s.Load.UncertaintyOhm; before != nil {
			smaller.Load.UncertaintyOhm = ptr(*before * ohm / s.Load.Ohm)
		}
		current := s.OpenV / (ohm + s.Load.LeadOhm)
		c := SetupCheck{CurrentA: current, PowerW: measure.Square(current) * ohm}
		if len(refusals(&smaller, &c, smaller.Load.longestS(c.PowerW))) == 0 {
			list = append(list, smaller)
		}
	}
	return list
}

func ptr(v float64) *float64 { return &v }
