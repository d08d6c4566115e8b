package judge

import (
	"math"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Check says whether the limits can be used. Errors are *problem.Error.
func (l Limits) Check() error {
	if !(l.CompetitionOhm > 0 && l.CompetitionOhm <= 100) {
		return problem.Invalidf("competition_ohm", "enter it in ohm, such as 0.1", "%s is not a possible limit", measure.Show(l.CompetitionOhm, "Ω"))
	}
	practice, field := 0.0, "robot"
	if l.PracticeOhm != nil {
		practice, field = *l.PracticeOhm, "practice_ohm"
		if !(practice > 0 && practice <= 100) {
			return problem.Invalidf(field, "enter it in ohm, such as 0.2", "%s is not a possible limit", measure.Show(practice, "Ω"))
		}
	} else {
		var err error
		if practice, err = l.Robot.MaxResistanceOhm(); err != nil {
			return err
		}
	}
	if practice < l.CompetitionOhm {
		return problem.Invalidf(field, "lower the competition limit, or raise the other",
			"the practice limit of %s is below the competition limit of %s", measure.Show(practice, "Ω"), measure.Show(l.CompetitionOhm, "Ω"))
	}
	return nil
}

// Practice is the practice limit in ohm: the one set, or else the one derived
// from the robot, but never below the competition limit. It is 0, no limit,
// where neither can be used.
func (l Limits) Practice() float64 {
	practice := 0.0
	if l.PracticeOhm != nil {
		practice = *l.PracticeOhm
	} else if derived, err := l.Robot.MaxResistanceOhm(); err == nil {
		practice = derived
	}
	if !(practice > 0) || math.IsInf(practice, 1) {
		return 0
	}
	return max(practice, l.CompetitionOhm)
}

// MaxResistanceOhm is the resistance with which the pack's voltage falls to
// the brown-out voltage at the robot's peak current, R = (V_rest − V_min) / I.
// Errors are *problem.Error.
func (r Robot) MaxResistanceOhm() (float64, error) {
	if !(r.PeakA > 0 && r.PeakA <= 1000) {
		return 0, problem.Invalidf("robot.peak_a", "enter it in ampere, such as 20", "%s is not a possible peak current", measure.Show(r.PeakA, "A"))
	}
	if !(r.BrownoutV > 0 && r.RestV <= 100 && r.RestV > r.BrownoutV) {
		return 0, problem.Invalidf("robot.brownout_v", "enter volt, such as 8.8 with a rest voltage of 12.8",
			"a brown-out at %s with %s at rest is not possible", measure.Show(r.BrownoutV, "V"), measure.Show(r.RestV, "V"))
	}
	return (r.RestV - r.BrownoutV) / r.PeakA, nil
}
