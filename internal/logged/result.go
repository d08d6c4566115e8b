package logged

import (
	"math"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// result puts the sums together.
func (r *Run) result() Result {
	sign := r.sign()
	out := Result{
		Rows: r.rows, SetAside: r.issues.setAside(), Issues: r.issues.list(),
		DurationS: r.last.TimeS - r.first.TimeS, TypicalIntervalS: r.pace.typical,
		HasAmps: r.withAmps > 0, SignTurned: sign < 0, Working: []loadtest.Step{},
		Curve: r.curve.list(r.hasCurrent(), sign),
		Voltage: Voltage{
			LowestV: r.lowest.Volts, LowestAtS: r.lowest.TimeS - r.first.TimeS, LowestLine: r.lowest.Line, LowestIsSpike: r.lowestSpike,
			BelowBrownoutS: r.belowS, Dips: r.dips, LongestDipS: r.longestS, BelowOneVoltS: r.oneVoltS,
		},
	}
	if r.hasCurrent() {
		out.Charge = r.charge(sign)
		out.Capacity = r.capacity(sign)
		out.Resistance = r.resistance(sign)
	}
	out.Warnings = r.warnings(&out)
	out.Working = r.working(&out)
	return out
}

func (r *Run) hasCurrent() bool { return r.withAmps > 0 || r.o.LoadOhm > 0 }
func (r *Run) fromLoad() bool   { return r.withAmps == 0 && r.o.LoadOhm > 0 }

// When the current flows in one direction (chosen, no source).
const (
	oneWay    = 0.99 // share of the charge
	clearFall = -0.5 // correlation of volts with the size of the current that only a discharge has
)

// sign is 1 where a discharge current is logged as positive, −1 where negative.
// With current in both directions, the volts fall with a discharge current.
// With one direction, they do so too where the load changes; if not, a
// discharge is where the volts fall over the run. A resistor's log has volts
// and amps rising together, so there the slope would mislead.
func (r *Run) sign() float64 {
	switch {
	case r.o.Discharge == "positive" || !r.hasCurrent() || r.fromLoad():
		return 1
	case r.o.Discharge == "negative":
		return -1
	}
	total, negative := r.total(), r.flow.negC/(r.flow.posC+r.flow.negC)
	if negative >= 1-oneWay && negative <= oneWay {
		if total.xy > 0 {
			return -1
		}
		return 1
	}
	logged := 1.0 // of the current that flowed
	if negative > oneWay {
		logged = -1
	}
	if logged*total.xy < clearFall*math.Sqrt(total.xx*total.yy) || r.drift.xy <= 0 {
		return logged
	}
	return -logged
}

// total is the moments of volts on amps over all rows.
func (r *Run) total() moments {
	var m moments
	for _, s := range r.iv.list {
		m.merge(s)
	}
	return m
}

// charge is what flowed over the whole run.
func (r *Run) charge(sign float64) *Charge {
	c := &Charge{FromLoad: r.fromLoad(), GapS: r.flow.gapS, LargestA: max(sign*r.largestA, sign*r.smallestA)}
	c.OutAh, c.OutWh = r.out(r.flow, r.last, sign)
	c.InAh, c.InWh = r.out(r.flow, r.last, -sign)
	c.MeanOutA = c.OutAh.Value * 3600 / max(r.flow.interval, 1e-9)
	return c
}

// out is charge and energy in one direction, with their uncertainties: gain and
// zero of the meters or tolerance of the load, straight lines between rows, and
// gaps, in which the current is as uncertain as it varies over the run. The
// clock's error, below 0.01 %, is left out.
func (r *Run) out(f flow, last Row, sign float64) (ah, wh Estimate) {
	c, j := f.posC, f.posJ
	if sign < 0 {
		c, j = f.negC, f.negJ
	}
	total := r.total()
	spread, meanV := 0.0, math.Abs(total.y)
	if total.n > 1 {
		spread = math.Sqrt(total.xx / (total.n - 1))
	}
	stepC, stepJ := f.steps(last)
	gap := math.Sqrt(f.gap2) * spread
	volt := measure.Rectangular(0, *r.o.VoltPct/100).StdUnc
	forC := []measure.Component{component(1, stepC), component(1, gap)}
	forJ := []measure.Component{component(1, stepJ), component(meanV, gap)}
	if r.fromLoad() {
		load := measure.Rectangular(0, *r.o.LoadTolerancePct/100).StdUnc
		forC = append(forC, component(c, volt), component(c, load))
		forJ = append(forJ, component(2*j, volt), component(j, load))
	} else {
		amp := measure.Rectangular(0, *r.o.AmpPct/100).StdUnc
		zero := measure.Rectangular(0, r.zeroA()).StdUnc
		forC = append(forC, component(c, amp), component(f.interval, zero))
		forJ = append(forJ, component(j, amp), component(j, volt), component(f.interval*meanV, zero))
	}
	return estimate(c/3600, 1.0/3600, measure.Combine(forC), r.rows), estimate(j/3600, 1.0/3600, measure.Combine(forJ), r.rows)
}

func component(sensitivity, u float64) measure.Component {
	return measure.Component{Sensitivity: sensitivity, StdUnc: u, DoF: math.Inf(1)}
}

// zeroA is what the current meter may show at no current, in ampere.
func (r *Run) zeroA() float64 {
	if r.o.AmpZeroA != nil {
		return *r.o.AmpZeroA
	}
	return usualZeroPct / 100 * max(math.Abs(r.largestA), math.Abs(r.smallestA))
}

// estimate writes a combined uncertainty, times scale, as an Estimate.
func estimate(value, scale float64, c measure.Combined, n int) Estimate {
	e := Estimate{Value: value, Observations: n}
	if u, _ := measure.Expand(c); !math.IsNaN(u) {
		std, expanded := scale*c.StdUnc, scale*u
		e.StandardUncertainty, e.ExpandedUncertainty = &std, &expanded
	}
	return e
}

// capacity is the charge to the stop voltage.
func (r *Run) capacity(sign float64) *Capacity {
	c := &Capacity{StopV: r.o.StopV, GoodPct: r.o.GoodPct, EndPct: r.o.EndPct, PackC: r.o.PackC}
	f, last := r.flow, r.last
	if r.stop.state > 0 { // also where the log ends below the stop voltage
		f, last = r.stop.flow, r.stop.at
		at := last.TimeS - r.first.TimeS
		c.Reached, c.StopAtS = true, &at
	}
	c.OutAh, c.OutWh = r.out(f, last, sign)
	defer func() { c.NotCounted = WhyNotCounted(c, r.o.FromFull) }()
	if r.o.RatedAh <= 0 {
		return c
	}
	percent := 100 / r.o.RatedAh
	share := Estimate{Value: c.OutAh.Value * percent, Observations: c.OutAh.Observations}
	u := 0.0
	if c.OutAh.StandardUncertainty != nil {
		std, expanded := *c.OutAh.StandardUncertainty*percent, *c.OutAh.ExpandedUncertainty*percent
		share.StandardUncertainty, share.ExpandedUncertainty, u = &std, &expanded, expanded
	}
	c.SharePct = &share
	c.Verdict = verdict(share.Value, u, c)
	if r.tooLittle(c) || share.Value > mostPct {
		c.Verdict = NotPack
	}
	return c
}

// verdict compares a share and its expanded uncertainty with the limits.
func verdict(share, u float64, c *Capacity) Verdict {
	switch {
	case share-u >= c.GoodPct:
		return Good
	case !c.Reached:
		return NotReached
	case share+u < c.EndPct:
		return AtEnd
	case share-u >= c.EndPct && share+u < c.GoodPct:
		return Worn
	}
	return Undecided
}

// Bounds below which changes of current tell no resistance (chosen, no source).
const (
	leastSpreadA     = 0.2  // standard deviation, ampere
	leastSpreadShare = 0.05 // of the mean
	leastPairShare   = 0.1  // of the standard deviation, between the rows of a pair
)

// resistance is nil where the current hardly changes or was worked out from the
// volts: those then tell nothing about the pack.
func (r *Run) resistance(sign float64) *Resistance {
	total := r.total()
	spread := math.Sqrt(total.xx / max(total.n-1, 1))
	if r.fromLoad() || !(spread >= leastSpreadA && spread >= leastSpreadShare*math.Abs(total.x)) {
		return nil
	}
	var out Resistance
	gain := measure.Combine([]measure.Component{
		component(1, measure.Rectangular(0, *r.o.VoltPct/100).StdUnc),
		component(1, measure.Rectangular(0, *r.o.AmpPct/100).StdUnc),
	}).StdUnc
	write := func(e measure.Estimate, n int) *Estimate {
		if !(e.Value > 0) || math.IsInf(e.Value, 1) {
			return nil
		}
		both := measure.Combine([]measure.Component{{Sensitivity: 1, StdUnc: e.StdUnc, DoF: e.DoF}, component(e.Value, gain)})
		made := estimate(e.Value, 1, both, n)
		return &made
	}
	turned := func(e measure.Estimate) measure.Estimate {
		e.Value *= -sign // the volts fall with a discharge current
		return e
	}
	if e, wholeRun, ok := r.sample.robust(leastPairShare * spread); ok {
		out.RobustOhm, out.WholeRun = write(turned(e), len(r.sample.kept)), wholeRun
	}
	if e, ok := r.iv.leastSquares(); ok {
		out.LeastSquaresOhm = write(turned(e), int(total.n))
	}
	if list := r.releases.ohms(sign); len(list) > 0 {
		out.ReleaseOhm = write(measure.Mean(list), len(list))
	}
	if out == (Resistance{WholeRun: out.WholeRun}) {
		return nil
	}
	return &out
}
