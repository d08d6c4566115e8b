// Package loadtest turns what was read off instruments into the resistance of
// a pack, with its uncertainty, its doubts and its working.
//
// Use this first: Compute for a load test, ComputeDirect for a resistance read
// from an instrument, CheckSetup before anything is connected. Check on a
// record says whether it may be stored; results are never stored, they are
// computed again from the record.
//
// The measurement is R = (R_L + r_w)·(V0/V1 − 1) and its relatives in model.go,
// the uncertainty that of JCGM 100:2008 (package measure). Facts of the trade
// that have no published source say so where they stand.
package loadtest

import (
	"math"

	"packwright/internal/cells"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Options say how much to work out, and on what pack.
type Options struct {
	Working bool    // also write out the steps; the budget is there without
	Cells   int     // in series; 0: cells.Usual
	FuseA   float64 // ampere, the fuse in the pack's lead; 0: unknown
}

// Compute works out a load test. The record must pass Check; readings that
// cannot be true are refused too. Errors are *problem.Error and name the
// field. Doubts that leave the value usable are warnings in the result.
//
// What the uncertainty holds: the last digits of each reading, the scatter of
// repeats, the load with its heating, the leads, and for a measured current
// the current meter. The meter's gain error is common to both voltage readings
// and cancels where R depends on their ratio only (known load, two loads).
// One reading has no scatter to see: it is then left out, and a warning says
// so; nothing is invented in its place.
func Compute(t Test, o Options) (Result, error) {
	if err := t.Check(); err != nil {
		return Result{}, err
	}
	n, err := cellsOf(o)
	if err != nil {
		return Result{}, err
	}
	t.order()
	m := modelOf(&t)
	if err := refuse(&t, &m, n); err != nil {
		return Result{}, err
	}
	r := m.loadResult(t.Method)
	r.boundIf(belowDisplay(m.sag, m.resolution))
	if t.ReadAfterS != nil {
		r.LoadEnergyJ = ptr(m.power * *t.ReadAfterS)
	}
	r.Warnings = warningsOf(&t, &m, &r, n, o.FuseA)
	if o.Working {
		r.Working = workingOf(&t, &m, &r)
	}
	return r, nil
}

// ComputeDirect works out a direct reading, as Compute does a load test.
func ComputeDirect(d Direct, o Options) (Result, error) {
	if err := d.Check(); err != nil {
		return Result{}, err
	}
	n, err := cellsOf(o)
	if err != nil {
		return Result{}, err
	}
	m := directModel(&d)
	if err := refuseDirect(&d, &m, n); err != nil {
		return Result{}, err
	}
	r := m.result(d.Method)
	r.boundIf(belowDisplay(m.resistance, m.resolution))
	r.OpenV = d.OpenV
	r.Warnings = directWarnings(&d, &m, &r, n)
	if o.Working {
		r.Working = directWorking(&d, &m, &r)
	}
	return r, nil
}

// belowDisplay says whether v is less than a display's last digit can show.
func belowDisplay(v, resolution float64) bool { return v < resolution*(1-sameCount) }

// boundIf makes an upper bound of the result.
func (r *Result) boundIf(below bool) {
	if below {
		r.BoundOnly, r.UpperBoundOhm = true, ptr(r.ResistanceOhm+r.ExpandedUncertaintyOhm)
	}
}

func cellsOf(o Options) (int, error) {
	if o.Cells == 0 {
		return cells.Usual, nil
	}
	if o.Cells < cells.Fewest || o.Cells > cells.Most {
		return 0, problem.Invalidf("cells", "count the cells in series, 10 in a 12 V pack", "%d cells in series is not possible here", o.Cells)
	}
	return o.Cells, nil
}

// result combines the budget of a model.
func (m *model) result(method Method) Result {
	components := make([]measure.Component, len(m.budget))
	for i, line := range m.budget {
		components[i] = line.Component()
	}
	c := measure.Combine(components)
	r := Result{
		Method: method, Repeats: m.repeats, ResistanceOhm: m.resistance,
		StandardUncertaintyOhm: c.StdUnc, DegreesOfFreedom: finite(c.DoF), Budget: m.budget,
	}
	r.ExpandedUncertaintyOhm, r.CoverageFactor = measure.Expand(c)
	if c.StdUnc > 0 {
		for i := range r.Budget {
			r.Budget[i].SharePct = 100 * measure.Square(r.Budget[i].ContributionOhm/c.StdUnc)
		}
	}
	return r
}

// loadResult is result with what a load test also tells.
func (m *model) loadResult(method Method) Result {
	r := m.result(method)
	if method != TwoLoads {
		r.OpenV = &m.open
	}
	r.LoadedV, r.CurrentA, r.SagV, r.LoadPowerW = &m.loaded, &m.current, &m.sag, &m.power
	return r
}

// Component is the line as measure combines it.
func (l BudgetLine) Component() measure.Component {
	return measure.Component{Sensitivity: l.Sensitivity, StdUnc: l.StdUnc, DoF: dofOf(l.DegreesOfFreedom)}
}

// SensitivityUnit is the unit of the line's sensitivity, ohm per unit of its
// quantity: empty for an ohm per ohm.
func (l BudgetLine) SensitivityUnit() string {
	switch l.Unit {
	case "":
		return "Ω"
	case "Ω":
		return ""
	}
	return "Ω/" + l.Unit
}

// finite is the form in which degrees of freedom travel: nil where infinite.
func finite(dof float64) *float64 {
	if math.IsInf(dof, 1) {
		return nil
	}
	return &dof
}

func dofOf(dof *float64) float64 {
	if dof == nil {
		return math.Inf(1)
	}
	return *dof
}
