// Package wiring works out what a lead costs: milliohm and volts of every piece
// of wire, fuse, contact and crimp, and how much of a pack's measured resistance
// is not cells.
//
// Use this first: describe the Lead and call Compute; then Compare with a
// measured resistance, and Difference for what a change would gain. ReadSize
// reads what people write on a wire.
//
// Lengths are in mm and of one conductor; Ways is 2 where the current goes out and back
// through such a wire. Resistances are in ohm.
//
// Published sources: IEC 60028 (copper), ASTM B258 (gauge) and IEC 60228 class 5
// (resistance of flexible conductors), all by independent transcriptions, the
// texts were not seen; data sheets of makers of contacts and fuses. What has
// no source says so in its part.
package wiring

import (
	"cmp"
	"fmt"
	"math"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Lead is what lies between the cells and the points where the resistance is
// measured or the voltage is used.
type Lead struct {
	Wires       []Wire   `json:"wires"`
	Joints      []Joint  `json:"joints"`
	PeakA       float64  `json:"peak_a"`                  // ampere, for the volts
	CopperC     *float64 `json:"copper_c,omitempty"`      // °C of the copper; nil is 25
	CopperPlusC *float64 `json:"copper_plus_c,omitempty"` // ± °C, rectangular; nil is 10
}

// Wire is a piece of stranded copper wire.
type Wire struct {
	Name         string   `json:"name"`
	Size         Size     `json:"size"`
	LengthMM     float64  `json:"length_mm"`                // of one conductor
	LengthPlusMM *float64 `json:"length_plus_mm,omitempty"` // ± mm, rectangular; nil is 5 %
	Ways         int      `json:"ways"`                     // 2 for out and back; 0 is 1
}

// Joint is a number of equal contacts, crimps, fuses or anything else in
// series.
type Joint struct {
	Name    string   `json:"name"`
	Kind    Kind     `json:"kind"`
	Count   int      `json:"count"`              // 0 is 1
	FuseA   float64  `json:"fuse_a,omitempty"`   // rating, for a fuse
	Ohm     *float64 `json:"ohm,omitempty"`      // of one, measured; nil takes the usual value
	PlusOhm *float64 `json:"plus_ohm,omitempty"` // ± ohm of the measured value, rectangular; nil is 20 %
}

// Budget is a lead's resistance, part by part.
type Budget struct {
	Parts                  []Part             `json:"parts"`
	ResistanceOhm          float64            `json:"resistance_ohm"`
	StandardUncertaintyOhm float64            `json:"standard_uncertainty_ohm"`
	ExpandedUncertaintyOhm float64            `json:"expanded_uncertainty_ohm"` // 95 %
	CoverageFactor         float64            `json:"coverage_factor"`
	CopperOhm              float64            `json:"copper_ohm"`
	FuseOhm                float64            `json:"fuse_ohm"`    // with its holder
	ContactOhm             float64            `json:"contact_ohm"` // contacts, crimps and the rest
	PeakA                  float64            `json:"peak_a"`
	SagV                   float64            `json:"sag_v"` // volt lost at the peak current
	Warnings               []loadtest.Warning `json:"warnings"`
	Working                []loadtest.Step    `json:"working"`

	inputs []input
}

// Part is a line of the budget.
type Part struct {
	Name                   string  `json:"name"`
	Kind                   Kind    `json:"kind"`
	ResistanceOhm          float64 `json:"resistance_ohm"`
	StandardUncertaintyOhm float64 `json:"standard_uncertainty_ohm"` // of this part alone
	SagV                   float64 `json:"sag_v"`                    // at the peak current
	PowerW                 float64 `json:"power_w"`                  // at the peak current
	SharePct               float64 `json:"share_pct"`                // of the lead
	Source                 string  `json:"source"`
	Assumed                bool    `json:"assumed"` // nobody measured it and nothing published gives it
}

// input is one uncertain quantity and how much the lead depends on it. Parts
// that share one carry its name, so that it counts once (JCGM 100 5.2.2, note 1).
type input struct {
	name        string
	sensitivity float64
	stdUnc      float64
}

// What is assumed where a lead does not say (common practice, no source).
const (
	usualCopperC       = 25.0
	usualCopperPlusC   = 10.0
	usualLengthPct     = 5.0
	usualMeasuredPct   = 20.0
	mostParts          = 50
	mostLengthMM       = 100_000.0
	coldestC, hottestC = -50.0, 200.0
)

// Compute works out the budget. Errors are *problem.Error.
func Compute(l Lead) (Budget, error) {
	if err := l.check(); err != nil {
		return Budget{}, err
	}
	b := Budget{PeakA: l.PeakA, Parts: []Part{}, Warnings: []loadtest.Warning{}, Working: []loadtest.Step{}}
	copperC, plusC := or(l.CopperC, usualCopperC), or(l.CopperPlusC, usualCopperPlusC)
	for i, w := range l.Wires {
		b.addWire(w, i, copperC, plusC)
	}
	for i, j := range l.Joints {
		b.addJoint(j, i)
	}
	c := combine(b.inputs)
	b.StandardUncertaintyOhm = c.StdUnc
	b.ExpandedUncertaintyOhm, b.CoverageFactor = measure.Expand(c)
	b.SagV = float64(b.ResistanceOhm * b.PeakA)
	for i := range b.Parts {
		if b.ResistanceOhm > 0 {
			b.Parts[i].SharePct = 100 * b.Parts[i].ResistanceOhm / b.ResistanceOhm
		}
	}
	b.sum()
	b.warn(l)
	return b, nil
}

func or(p *float64, usual float64) float64 {
	if p == nil {
		return usual
	}
	return *p
}

// combine adds inputs, those of one name together first.
func combine(inputs []input) measure.Combined {
	var joined []input
next:
	for _, in := range inputs {
		for i := range joined {
			if joined[i].name == in.name {
				joined[i].sensitivity += in.sensitivity
				continue next
			}
		}
		joined = append(joined, in)
	}
	var c []measure.Component
	for _, in := range joined {
		c = append(c, measure.Component{Sensitivity: in.sensitivity, StdUnc: in.stdUnc, DoF: math.Inf(1)})
	}
	return measure.Combine(c)
}

// add puts a part into the budget.
func (b *Budget) add(p Part, inputs ...input) {
	p.StandardUncertaintyOhm = combine(inputs).StdUnc
	p.SagV = float64(p.ResistanceOhm * b.PeakA)
	p.PowerW = float64(p.SagV * b.PeakA)
	b.Parts = append(b.Parts, p)
	b.inputs = append(b.inputs, inputs...)
	b.ResistanceOhm += p.ResistanceOhm
}

// addWire adds ρ·L/A at the copper's temperature, with what strands add.
func (b *Budget) addWire(w Wire, i int, copperC, plusC float64) {
	ways := float64(max(w.Ways, 1))
	length := ways * w.LengthMM / 1000
	excess := w.Size.excess()
	cold := w.Size.OhmPerM() * excess.Value
	r := length * cold * temperatureFactor(copperC)
	plus := or(w.LengthPlusMM, w.LengthMM*usualLengthPct/100)
	name := cmp.Or(w.Name, "wire "+w.Size.String())
	b.CopperOhm += r
	b.add(Part{Name: name, Kind: Copper, ResistanceOhm: r, Source: w.Size.source()},
		input{"copper temperature", length * cold * copperPerK, measure.Rectangular(0, plusC).StdUnc},
		input{"strands of " + w.Size.String(), r / excess.Value, excess.StdUnc},
		input{fmt.Sprintf("length %d ± %g", i, plus), ways / 1000 * cold * temperatureFactor(copperC), measure.Rectangular(0, plus).StdUnc})
	area := measure.Show(w.Size.Area(), "mm²")
	b.step(name+", area", w.Size.formula(), w.Size.String(), area)
	b.step(name, "R = ρ · L / A · s · (1 + α·(t − 20 °C))",
		"1/58 Ω·mm²/m · "+measure.Show(length, "m")+" / "+area+" · "+measure.Show(excess.Value, "")+" · "+measure.Show(temperatureFactor(copperC), ""), milliohm(r))
}

// addJoint adds joints at their measured or usual value. Equal joints are
// likely off in the same direction, so their uncertainty adds up.
func (b *Budget) addJoint(j Joint, i int) {
	n := float64(max(j.Count, 1))
	info, _ := j.Kind.info()
	one, source := info.usual(j.FuseA), info.source
	key := "usual " + string(j.Kind) + fmt.Sprint(j.FuseA)
	if j.Ohm != nil {
		one = measure.Rectangular(*j.Ohm, or(j.PlusOhm, *j.Ohm*usualMeasuredPct/100))
		source, key = "as measured", fmt.Sprintf("joint %d %g ± %g", i, *j.Ohm, one.StdUnc)
	}
	r := n * one.Value
	name := cmp.Or(j.Name, info.words)
	if info.fuse {
		b.FuseOhm += r
	} else {
		b.ContactOhm += r
	}
	b.add(Part{Name: name, Kind: j.Kind, ResistanceOhm: r, Source: source, Assumed: j.Ohm == nil && !info.published}, input{key, n, one.StdUnc})
	b.step(name, "R = n · r", measure.Show(n, "")+" · "+milliohm(one.Value)+", "+source, milliohm(r))
}

// sum writes the last lines of the working.
func (b *Budget) sum() {
	r, u := milliohm(b.ResistanceOhm), milliohm(b.StandardUncertaintyOhm)
	b.step("the lead", "R = Σ Rᵢ", measure.Show(float64(len(b.Parts)), "")+" parts", r)
	b.step("standard uncertainty", "u² = Σ (cᵢ·uᵢ)²", "what parts have in common counts once, added up", u)
	b.step("expanded uncertainty, 95 %", "U = k · u", measure.Show(b.CoverageFactor, "")+" · "+u, measure.ShowInterval(1000*b.ResistanceOhm, 1000*b.ExpandedUncertaintyOhm, "mΩ"))
	b.step("volts lost at the peak current", "V = I · R", measure.Show(b.PeakA, "A")+" · "+r, measure.ShowDigits(b.SagV, 3, "V"))
}

// step adds a line to the working; a phone downloads every inlined copy.
//
//go:noinline
func (b *Budget) step(label, formula, numbers, result string) {
	b.Working = append(b.Working, loadtest.Step{Label: label, Formula: formula, Numbers: numbers, Result: result})
}

//go:noinline
func milliohm(ohm float64) string { return measure.ShowDigits(1000*ohm, 3, "mΩ") }

// check refuses leads that cannot be.
func (l Lead) check() error {
	if len(l.Wires)+len(l.Joints) == 0 {
		return problem.Invalidf("wires", "add a wire or a joint", "the lead is empty")
	}
	if len(l.Wires)+len(l.Joints) > mostParts {
		return problem.Invalidf("wires", "", "%d parts are more than a lead has (%d at most)", len(l.Wires)+len(l.Joints), mostParts)
	}
	if !(l.PeakA >= 0 && l.PeakA <= 1000) {
		return problem.Invalidf("peak_a", "enter it in ampere, such as 20", "%s is not a possible peak current", measure.Show(l.PeakA, "A"))
	}
	if c := or(l.CopperC, usualCopperC); !(c >= coldestC && c <= hottestC) {
		return problem.Invalidf("copper_c", "enter it in °C, such as 25", "%s is not a possible temperature of a lead", measure.Show(c, "°C"))
	}
	if c := or(l.CopperPlusC, 0); !(c >= 0 && c <= 100) {
		return problem.Invalidf("copper_plus_c", "enter 0 to 100 °C", "± %s is not possible", measure.Show(c, "°C"))
	}
	for i, w := range l.Wires {
		if err := w.check(fmt.Sprintf("wires[%d]", i)); err != nil {
			return err
		}
	}
	for i, j := range l.Joints {
		if err := j.check(fmt.Sprintf("joints[%d]", i)); err != nil {
			return err
		}
	}
	return nil
}

func (w Wire) check(field string) error {
	if err := w.Size.check(field + ".size"); err != nil {
		return err
	}
	if !(w.LengthMM > 0 && w.LengthMM <= mostLengthMM) {
		return problem.Invalidf(field+".length_mm", "enter the length of one conductor in mm, such as 300", "%s is not a possible length", measure.Show(w.LengthMM, "mm"))
	}
	if p := or(w.LengthPlusMM, 0); !(p >= 0 && p <= w.LengthMM) {
		return problem.Invalidf(field+".length_plus_mm", "enter less than the length", "± %s is not possible", measure.Show(p, "mm"))
	}
	if w.Ways < 0 || w.Ways > 10 {
		return problem.Invalidf(field+".ways", "2 for out and back", "%d ways are not possible", w.Ways)
	}
	return nil
}

func (j Joint) check(field string) error {
	info, ok := j.Kind.info()
	switch {
	case !ok:
		return problem.Invalidf(field+".kind", "", "%q is not a kind of joint", string(j.Kind))
	case j.Count < 0 || j.Count > 100:
		return problem.Invalidf(field+".count", "", "%d is not a number of joints in a lead", j.Count)
	case j.Ohm != nil && !(*j.Ohm >= 0 && *j.Ohm <= 10):
		return problem.Invalidf(field+".ohm", "enter it in ohm, such as 0.001", "%s is not a possible joint", measure.Show(*j.Ohm, "Ω"))
	case j.PlusOhm != nil && !(*j.PlusOhm >= 0 && *j.PlusOhm <= 10):
		return problem.Invalidf(field+".plus_ohm", "enter it in ohm, such as 0.0002", "± %s is not possible", measure.Show(*j.PlusOhm, "Ω"))
	case j.Kind == Other && j.Ohm == nil:
		return problem.Invalidf(field+".ohm", "enter what it measures", "nothing is known of another kind of joint")
	case j.FuseA < 0 || j.FuseA > 500 || math.IsNaN(j.FuseA), info.perFuse && j.Ohm == nil && !(j.FuseA >= 5 && j.FuseA <= 100):
		return problem.Invalidf(field+".fuse_a", "enter the fuse's rating, such as 20", "%s is not a rating of a blade fuse", measure.Show(j.FuseA, "A"))
	}
	return nil
}
