// Package judge decides what a pack is fit for from its resistance and the
// uncertainty of it.
//
// Use this first: Decide for a result, or DecideTest where the raw test is at
// hand and the plan for an undecided pack should be worked out from it.
//
// The rule keeps a guard band of one expanded uncertainty U (95 %) on either
// side of a limit, so that a decision is wrong in at most one case of forty:
//
//	R + U ≤ limit           competition
//	R − U > practice limit  set aside
//	R − U > limit           practice
//	otherwise               retest: not decided
//
// This is acceptance with w = U and rejection with w = U as in JCGM 106:2012
// clause 8 and ILAC-G8:09/2019 4.2.3; between the two, where those documents
// speak of conditional pass and fail, we ask for a better test. A practice
// pack that may or may not be beyond the practice limit stays for practice,
// and is asked for a better test too. Safety findings come before any number.
//
// An a.c. reading leaves out charge transfer and diffusion, so the resistance
// that the limits are about, the d.c. one, is at least as large. Such a reading
// can show that a pack is above a limit, and never that it is within one.
package judge

import (
	"math"
	"slices"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// Decide judges a result against the limits. r is nil where there is no usable
// test. safety are open safety findings, in words; one is enough to set the
// pack aside. Limits that fail Check still give a decision as far as they can.
func Decide(r *loadtest.Result, l Limits, safety []string) Decision {
	return decide(r, l, safety, func(limit float64) []string { return planFromBudget(r, limit) })
}

// DecideTest is Decide with the raw test of r, from which it works out what
// would decide an undecided pack: how many more readings, or which load.
func DecideTest(t loadtest.Test, r *loadtest.Result, l Limits, safety []string) Decision {
	open := false
	d := decide(r, l, safety, func(limit float64) []string {
		steps := planFromTest(t, r, limit)
		if open = len(steps) == 0; open {
			steps = []string{"nothing practical will decide: it is too close to " + measure.Show(limit, "Ω") + "; treat it as above the limit, for practice only, and test it when it is due"}
		}
		return steps
	})
	if open && d.Outcome == Retest && len(d.Next) == 1 {
		d.TreatAs = Practice
	}
	return d
}

// decide applies the rule; plan says what would decide against a limit.
func decide(r *loadtest.Result, l Limits, safety []string, plan func(limit float64) []string) Decision {
	d := Decision{LimitOhm: l.CompetitionOhm, PracticeLimitOhm: l.Practice(), Next: []string{}, Safety: []string{}}
	if isAC(r) {
		plan = func(float64) []string { return []string{"judge it by a load test"} }
	}
	if r != nil && !r.BoundOnly && !isAC(r) {
		p := measure.ProbabilityAtMost(l.CompetitionOhm, estimate(r))
		d.ProbabilityWithinLimit = &p
	}
	switch {
	case len(safety) > 0:
		d.Safety = slices.Clone(safety)
		d.say(SetAside, "a safety finding comes before any reading: "+safety[0],
			"do not charge or use it; put it where it can do no harm and nobody takes it by mistake",
			"close the finding only when a qualified person has seen to it")
	case r == nil:
		d.say(Untested, "there is no usable test yet", "test it, charged and rested")
	case !(l.CompetitionOhm > 0):
		d.say(Untested, "no limit is set", "set the competition limit")
	case warned(r, loadtest.ImplausiblyLow):
		d.say(Retest, "no pack is as good as that reading: the load was probably not connected", "check the load and its value, and test again")
	case warned(r, loadtest.TooLow):
		d.say(Retest, "the pack needs charge before it can be judged", "recharge it, let it rest, and test again")
	case r.BoundOnly:
		d.bound(r, plan)
		d.scatter(r)
	default:
		d.resistance(r, plan)
		d.scatter(r)
	}
	if warned(r, loadtest.LostCell) && d.Outcome != SetAside {
		d.first("its voltage is low: recharge and compare with its sister packs, a cell may be lost")
	}
	return d
}

// resistance decides on R ± U.
func (d *Decision) resistance(r *loadtest.Result, plan func(float64) []string) {
	low, high := r.ResistanceOhm-r.ExpandedUncertaintyOhm, r.ResistanceOhm+r.ExpandedUncertaintyOhm
	value := measure.ShowInterval(r.ResistanceOhm, r.ExpandedUncertaintyOhm, "Ω")
	limit, practice := measure.Show(d.LimitOhm, "Ω"), measure.Show(d.PracticeLimitOhm, "Ω")
	switch {
	case high <= d.LimitOhm && isAC(r):
		d.acWithin(value, plan)
	case high <= d.LimitOhm:
		d.say(Competition, value+" is within the limit of "+limit)
	case d.PracticeLimitOhm > 0 && low > d.PracticeLimitOhm:
		d.say(SetAside, value+" is above the practice limit of "+practice,
			"look at connector, lead and fuse first; test again after a repair",
			"if it stays, take it out of service and recycle it by local rules")
	case low > d.LimitOhm:
		d.say(Practice, value+" is above the limit of "+limit, "use it for practice only; check connector and lead before blaming the cells")
		if d.PracticeLimitOhm > 0 && (high > d.PracticeLimitOhm || isAC(r)) {
			for _, step := range plan(d.PracticeLimitOhm) {
				d.Next = append(d.Next, "to know whether it keeps the practice limit of "+practice+": "+step)
			}
		}
	default:
		d.say(Retest, value+" does not decide against the limit of "+limit, plan(d.LimitOhm)...)
	}
}

// acWithin is what an a.c. reading within the limit comes to.
func (d *Decision) acWithin(value string, plan func(float64) []string) {
	d.say(Retest, "an a.c. reading of "+value+" is within the limit of "+measure.Show(d.LimitOhm, "Ω")+", but a d.c. value is higher", plan(d.LimitOhm)...)
}

// scatter puts what the repeats say, or cannot say, before all other steps,
// whatever the outcome.
func (d *Decision) scatter(r *loadtest.Result) {
	if r.Repeats < 2 {
		d.first("take three readings: one shows no scatter")
	}
	if warned(r, loadtest.LargeScatter) {
		d.first("the readings scatter: look for a bad contact before anything else")
	}
}

// bound decides where only an upper bound on R is known.
func (d *Decision) bound(r *loadtest.Result, plan func(float64) []string) {
	most := "at most " + measure.ShowRough(*r.UpperBoundOhm, "Ω")
	switch {
	case *r.UpperBoundOhm <= d.LimitOhm && isAC(r):
		d.acWithin(most, plan)
	case *r.UpperBoundOhm <= d.LimitOhm:
		d.say(Competition, most+", within the limit of "+measure.Show(d.LimitOhm, "Ω"))
	default:
		d.say(Retest, most+" does not decide against the limit of "+measure.Show(d.LimitOhm, "Ω"), plan(d.LimitOhm)...)
	}
}

func (d *Decision) say(o Outcome, reason string, next ...string) {
	d.Outcome, d.Reason = o, reason
	d.Next = append(d.Next, next...)
}

// first puts a step before the others.
func (d *Decision) first(step string) { d.Next = slices.Insert(d.Next, 0, step) }

// estimate is the resistance as measure knows it.
func estimate(r *loadtest.Result) measure.Estimate {
	e := measure.Estimate{Value: r.ResistanceOhm, StdUnc: r.StandardUncertaintyOhm, DoF: math.Inf(1)}
	if r.DegreesOfFreedom != nil {
		e.DoF = *r.DegreesOfFreedom
	}
	return e
}

func isAC(r *loadtest.Result) bool { return r != nil && r.Method == loadtest.DirectAC }

func warned(r *loadtest.Result, code string) bool {
	return r != nil && slices.ContainsFunc(r.Warnings, func(w loadtest.Warning) bool { return w.Code == code })
}
