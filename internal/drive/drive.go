// Package drive says what a pack's resistance means on the field: the voltage
// it keeps at the robot's peak current, and the current at which the robot
// browns out.
//
// Use this first: Compute, with a resistance from a load test, a state of charge
// and the robot. At full charge its MaxOhm is judge.Robot.MaxResistanceOhm.
//
//	V = V_oc − I · R        I_b = (V_oc − V_min) / R        R_max = (V_oc − V_min) / I
//
// V_oc and R depend on charge by published tables; see open and growth. They are
// of other cells than the team's, so both come with a generous doubt, and the
// answer says how rough it is.
//
// Uncertainties combine by JCGM 100:2008 5.1.2, to 95 % by Student's t (G.4); the
// probability of holding is that of JCGM 106:2012 clause 7. A load test is read
// seconds after the load is connected and a peak is shorter, so the true sag is
// rather less than stated.
package drive

import (
	"math"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// The codes of warnings. They are part of the API.
const (
	UncertaintyUnknown = "uncertainty-unknown" // of the resistance
	CannotDeliver      = "cannot-deliver"      // not even at no voltage left
	NearlyEmpty        = "nearly-empty"
	RestVoltageLow     = "rest-voltage-low" // the team's setting, for a full pack
)

// nearlyEmptyPct is the charge below which a cell may be driven into reversal
// (own bound: 20 %, where the published resistance begins to climb).
const nearlyEmptyPct = 20.0

// Compute answers a Question. A PackStdUnc of NaN stands for unknown. Errors are
// *problem.Error.
func Compute(q Question) (Answer, error) {
	if err := q.check(); err != nil {
		return Answer{}, err
	}
	s := solve(q)
	a := Answer{
		ChargePct: q.ChargePct,
		OpenV:     figure(s.openV, s.openParts),
		LoadedV:   figure(s.loadedV, s.loadedParts()),
		MarginV:   figure(s.loadedV-q.Robot.BrownoutV, s.loadedParts()),
		BrownoutA: figure(max(0, s.head/s.ohm), join(scaled(s.openParts, 1/s.ohm), scaled(s.ohmParts, -s.head/measure.Square(s.ohm)))),
		MaxOhm:    figure(max(0, s.head/q.Robot.PeakA), scaled(s.openParts, 1/q.Robot.PeakA)),
		Source:    source,
		Working:   []loadtest.Step{}, Warnings: []loadtest.Warning{},
	}
	a.Holds = s.holds()
	a.Text, a.Rough = s.sentence(&a), s.rough(&a)
	if s.loadedV < 0 {
		a.LoadedV, a.MarginV = Figure{}, Figure{Value: -q.Robot.BrownoutV}
		a.warn(CannotDeliver, "it cannot give "+measure.Show(q.Robot.PeakA, "A")+", whatever the voltage", "check the reading; if it holds, do not use the pack")
	}
	a.warnOf(q)
	if q.Working {
		a.Working = s.working(&a)
	}
	return a, nil
}

// solution is the arithmetic of one question.
type solution struct {
	q           Question
	openV       float64
	openParts   []measure.Component // of openV
	growth      float64             // resistance at this charge over the tested one
	growthPlus  float64             // half-width
	ohm         float64             // at this charge
	ohmParts    []measure.Component // of ohm
	loadedV     float64
	head        float64 // volt from open circuit to brown-out
	uncertainty measure.Combined
}

func solve(q Question) *solution {
	s := &solution{q: q}
	s.openV, s.openParts = open(q.Cells, q.ChargePct, q.Robot.RestV)
	s.growth, s.growthPlus = growth(q.ChargePct)
	s.ohm = float64(q.PackOhm * s.growth)
	dof := math.Inf(1)
	if q.DoF != nil {
		dof = max(*q.DoF, 1)
	}
	s.ohmParts = scaled([]measure.Component{rectangular(s.growthPlus)}, q.PackOhm)
	s.ohmParts = append(s.ohmParts, measure.Component{Sensitivity: s.growth, StdUnc: q.PackStdUnc, DoF: dof})
	s.loadedV = s.openV - float64(q.Robot.PeakA*s.ohm)
	s.head = s.openV - q.Robot.BrownoutV
	s.uncertainty = combine(s.loadedParts())
	return s
}

// loadedParts is what makes the loaded voltage uncertain.
func (s *solution) loadedParts() []measure.Component {
	return join(s.openParts, scaled(s.ohmParts, -s.q.Robot.PeakA))
}

// holds is the probability of a loaded voltage above brown-out. Where the
// resistance's own uncertainty is unknown it is left out, and a warning says so.
func (s *solution) holds() float64 {
	u := s.uncertainty
	if math.IsNaN(u.StdUnc) {
		u = combine(join(s.openParts, scaled(s.ohmParts[:1], -s.q.Robot.PeakA)))
	}
	return 1 - measure.ProbabilityAtMost(s.q.Robot.BrownoutV, measure.Estimate{Value: s.loadedV, StdUnc: u.StdUnc, DoF: u.DoF})
}

// figure is a value with its expanded uncertainty, where that is known.
func figure(value float64, parts []measure.Component) Figure {
	plus, _ := measure.Expand(combine(parts))
	if math.IsNaN(plus) {
		return Figure{Value: value}
	}
	return Figure{Value: value, Plus: &plus}
}

// combine is measure.Combine, whose degrees of freedom fall below 1 only by
// rounding.
func combine(parts []measure.Component) measure.Combined {
	c := measure.Combine(parts)
	c.DoF = max(c.DoF, 1)
	return c
}

func scaled(parts []measure.Component, by float64) []measure.Component {
	out := make([]measure.Component, len(parts))
	for i, p := range parts {
		p.Sensitivity *= by
		out[i] = p
	}
	return out
}

func join(a, b []measure.Component) []measure.Component {
	return append(append([]measure.Component{}, a...), b...)
}

const (
	mostOhm   = 100.0    // no pack that drives anything comes near (own bound)
	fewestDoF = 1 - 1e-9 // 1, but for the rounding of a formula that never gives less
)

// check refuses what cannot be.
func (q Question) check() error {
	if !(q.PackOhm > 0 && q.PackOhm <= mostOhm) {
		return problem.Invalidf("pack_ohm", "take it from a load test, such as 0.1 Ω", "%s is not a possible resistance of a pack", measure.Show(q.PackOhm, "Ω"))
	}
	if q.PackStdUnc < 0 || q.PackStdUnc > mostOhm {
		return problem.Invalidf("pack_std_unc", "take it from the same test", "an uncertainty of %s is not possible", measure.Show(q.PackStdUnc, "Ω"))
	}
	if q.DoF != nil && !(*q.DoF >= fewestDoF) {
		return problem.Invalidf("dof", "leave it out where it is not known", "%s degrees of freedom are not possible", measure.Show(*q.DoF, ""))
	}
	if q.Cells < cells.Fewest || q.Cells > cells.Most {
		return problem.Invalidf("cells", "10 make a 12 V pack", "%d cells in series are not a pack", q.Cells)
	}
	if !(q.ChargePct >= 0 && q.ChargePct <= 100) {
		return problem.Invalidf("charge_pct", "enter percent of a full charge, 0 to 100", "%s is not a state of charge", measure.Show(q.ChargePct, "%"))
	}
	if _, err := q.Robot.MaxResistanceOhm(); err != nil {
		return err
	}
	if low, high := cells.TooLowV(q.Cells), cells.HighestV(q.Cells); q.Robot.RestV < low || q.Robot.RestV > high {
		return problem.Invalidf("robot.rest_v", "check the cells of the pack and the rest voltage of the robot",
			"%d cells, full and rested, have %s to %s, not %s", q.Cells, measure.Show(low, "V"), measure.Show(high, "V"), measure.Show(q.Robot.RestV, "V"))
	}
	return nil
}
