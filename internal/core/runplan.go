package core

import (
	"packwright/internal/loadtest"
	"packwright/internal/logged"
)

// RunPlanRequest is for "run-plan": what a capacity check by resistor will do,
// before the load is connected. The pack's profile and the team's robot say the rest.
type RunPlanRequest struct {
	Pack  string        `json:"pack"` // code
	Load  loadtest.Load `json:"load"`
	StopV float64       `json:"stop_v"` // volt; 0: 1.0 V per cell
}

func (s *Session) runPlan(r *RunPlanRequest) (*logged.Plan, error) {
	o := logged.Options{StopV: r.StopV}
	fuseA := 0.0
	if s.fleet.Has(r.Pack) {
		p, err := s.fleet.Pack(r.Pack, 0)
		if err != nil {
			return nil, err
		}
		o.Cells, o.RatedAh, fuseA = p.Cells, p.CapacityAh, p.FuseA
	}
	team := s.fleet.Team()
	plan, err := logged.PlanRun(r.Load, team.Meter, fuseA, team.Limits.Robot.RestV, o)
	return &plan, err
}
