package wiring

import (
	"cmp"
	"fmt"
	"math"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Comparison is a lead beside a measured pack resistance that includes it.
type Comparison struct {
	PackOhm      float64            `json:"pack_ohm"`
	CellsOhm     float64            `json:"cells_ohm"`      // with the tabs between them: what the lead does not explain
	CellsPlusOhm float64            `json:"cells_plus_ohm"` // expanded uncertainty, 95 %
	CellsPct     float64            `json:"cells_pct"`      // shares of the pack
	CopperPct    float64            `json:"copper_pct"`     //
	FusePct      float64            `json:"fuse_pct"`       //
	ContactPct   float64            `json:"contact_pct"`    //
	Gains        []Gain             `json:"gains"`          // greatest first
	Warnings     []loadtest.Warning `json:"warnings"`
	Working      []loadtest.Step    `json:"working"`
}

// Gain is what a change of the lead saves.
type Gain struct {
	Change       string  `json:"change"`
	SavesOhm     float64 `json:"saves_ohm"`      // below 0 where it costs
	SavesPlusOhm float64 `json:"saves_plus_ohm"` // expanded uncertainty, 95 %
	SavesV       float64 `json:"saves_v"`        // at the peak current
	SavesPct     float64 `json:"saves_pct"`      // of the pack
	PackOhm      float64 `json:"pack_ohm"`       // afterwards
}

// Compare takes the lead out of a measured resistance, with its standard
// uncertainty and degrees of freedom, and says what shorter, thicker or newly
// made leads gain. Errors are *problem.Error.
func Compare(l Lead, pack measure.Estimate) (Comparison, error) {
	b, err := Compute(l)
	if err != nil {
		return Comparison{}, err
	}
	if !(pack.Value > 0 && pack.Value <= 100) || !(pack.StdUnc >= 0 && pack.StdUnc <= 100) || !(pack.DoF > 0) {
		return Comparison{}, problem.Invalidf("pack_ohm", "take it from a test of the pack with its lead", "%s is not a measured resistance", measure.Show(pack.Value, "Ω"))
	}
	u := measure.Combine([]measure.Component{
		{Sensitivity: 1, StdUnc: pack.StdUnc, DoF: pack.DoF}, {Sensitivity: -1, StdUnc: b.StandardUncertaintyOhm, DoF: math.Inf(1)},
	})
	c := Comparison{PackOhm: pack.Value, CellsOhm: pack.Value - b.ResistanceOhm, Gains: []Gain{}, Warnings: b.Warnings, Working: b.Working}
	c.CellsPlusOhm, _ = measure.Expand(u)
	percent := 100 / pack.Value
	c.CellsPct, c.CopperPct, c.FusePct, c.ContactPct = percent*c.CellsOhm, percent*b.CopperOhm, percent*b.FuseOhm, percent*b.ContactOhm
	c.Working = append(c.Working, loadtest.Step{Label: "cells and the tabs between them", Formula: "R_cells = R_pack − R_lead",
		Numbers: milliohm(pack.Value) + " − " + milliohm(b.ResistanceOhm), Result: measure.ShowInterval(1000*c.CellsOhm, 1000*c.CellsPlusOhm, "mΩ")})
	if c.CellsOhm+c.CellsPlusOhm <= 0 {
		c.Warnings = append(c.Warnings, loadtest.Warning{Code: "lead-above-pack", Text: "the lead alone should have more than the whole pack measures",
			Hint: "check lengths and sizes, and whether the meter's probes sat behind the lead"})
	}
	for _, change := range changes(l) {
		g, err := Difference(l, change.lead, pack.Value)
		if err != nil {
			return Comparison{}, err
		}
		g.Change = change.words
		at := len(c.Gains)
		for at > 0 && c.Gains[at-1].SavesOhm < g.SavesOhm {
			at--
		}
		c.Gains = append(c.Gains[:at], append([]Gain{g}, c.Gains[at:]...)...)
	}
	return c, nil
}

// Difference is what changing one lead to another saves, with what both have in
// common left out of the uncertainty: the copper's temperature, strands of the
// same size, usual joints of the same kind, and the length of a wire at the same
// place in both with the same ±. packOhm is the pack's resistance with the
// first. Errors are *problem.Error.
func Difference(from, to Lead, packOhm float64) (Gain, error) {
	a, err := Compute(from)
	if err != nil {
		return Gain{}, err
	}
	b, err := Compute(to)
	if err != nil {
		return Gain{}, err
	}
	inputs := append([]input{}, a.inputs...)
	for _, in := range b.inputs {
		in.sensitivity = -in.sensitivity
		inputs = append(inputs, in)
	}
	g := Gain{SavesOhm: a.ResistanceOhm - b.ResistanceOhm}
	g.SavesPlusOhm, _ = measure.Expand(combine(inputs))
	g.SavesV = float64(g.SavesOhm * from.PeakA)
	g.PackOhm = packOhm - g.SavesOhm
	if packOhm > 0 {
		g.SavesPct = 100 * g.SavesOhm / packOhm
	}
	return g, nil
}

// change is a lead that could be made instead.
type change struct {
	words string
	lead  Lead
}

// shorterMM is how much shorter a lead is tried (chosen, no source).
const shorterMM = 100.0

// areas are the usual sizes in mm² (IEC 60228).
var areas = [...]float64{0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120}

// thicker is two gauges or one usual area more; ok is false at the end.
func (s Size) thicker() (Size, bool) {
	if s.AWG != nil {
		return AWG(*s.AWG - 2), *s.AWG-2 >= thickestAWG
	}
	for _, a := range areas {
		if a > s.AreaMM2*1.01 {
			return Size{AreaMM2: a}, true
		}
	}
	return s, false
}

// changes are those worth looking at: each wire shorter or thicker, and each
// measured joint above the usual value made anew.
func changes(l Lead) []change {
	var out []change
	wire := func(i int, w Wire) Lead {
		changed := l
		changed.Wires = append([]Wire{}, l.Wires...)
		changed.Wires[i] = w
		return changed
	}
	for i, w := range l.Wires {
		name := cmp.Or(w.Name, "wire "+w.Size.String())
		if shorter := w; w.LengthMM > shorterMM {
			plus := or(w.LengthPlusMM, w.LengthMM*usualLengthPct/100)
			shorter.LengthMM -= shorterMM
			if plus <= shorter.LengthMM { // what was cut off is known well, the rest as before
				shorter.LengthPlusMM = &plus
			}
			out = append(out, change{fmt.Sprintf("%s: %s shorter", name, measure.Show(shorterMM, "mm")), wire(i, shorter)})
		}
		if size, ok := w.Size.thicker(); ok {
			thicker := w
			thicker.Size = size
			out = append(out, change{fmt.Sprintf("%s: %s for %s", name, size, w.Size), wire(i, thicker)})
		}
	}
	for i, j := range l.Joints {
		info, _ := j.Kind.info()
		if j.Ohm == nil || j.Kind == Other || *j.Ohm <= info.usual(j.FuseA).Value || info.perFuse && j.FuseA < 5 {
			continue
		}
		changed := l
		changed.Joints = append([]Joint{}, l.Joints...)
		changed.Joints[i].Ohm, changed.Joints[i].PlusOhm = nil, nil
		verb := "made anew"
		if j.Kind == Crimp {
			verb = "crimped anew"
		}
		out = append(out, change{cmp.Or(j.Name, info.words) + ": " + verb, changed})
	}
	return out
}

// carries are currents that a wire of a gauge carries without getting hot in a
// bundle (common practice for wiring inside a machine, from memory).
var carries = [...]struct{ awg, amps int }{{22, 7}, {20, 11}, {18, 16}, {16, 22}, {14, 32}, {12, 41}, {10, 55}, {8, 73}, {6, 101}}

// carriesA is the current for that area, of the next thinner gauge; 0 below 22 AWG.
func carriesA(area float64) float64 {
	amps := 0.0
	for _, c := range carries {
		if area >= 0.99*AWG(c.awg).Area() {
			amps = float64(c.amps)
		}
	}
	return amps
}

// warn adds the usual cautions.
func (b *Budget) warn(l Lead) {
	fuseA := 0.0
	for _, j := range l.Joints {
		info, _ := j.Kind.info()
		if j.Kind == BladeFuse && j.FuseA > 0 && (fuseA == 0 || j.FuseA < fuseA) {
			fuseA = j.FuseA
		}
		if j.Ohm != nil && info.rejectMOhm > 0 && 1000**j.Ohm > info.rejectMOhm {
			b.warning("bad-joint", fmt.Sprintf("%s has %s, a new one %s to %s", cmp.Or(j.Name, info.words), milliohm(*j.Ohm), measure.Show(info.low, ""), measure.Show(info.high, "mΩ")),
				"make it anew, then take a new baseline (common practice, no source)")
		}
	}
	if fuseA > 0 && l.PeakA > fuseA {
		b.warning("above-fuse", fmt.Sprintf("the peak of %s is above the fuse's %s", measure.Show(l.PeakA, "A"), measure.Show(fuseA, "A")),
			"it may blow in a long peak; never fit a larger fuse than the rules and the wire allow")
	}
	unmeasured := 0
	for _, j := range l.Joints {
		if j.Ohm == nil {
			unmeasured += max(j.Count, 1)
		}
	}
	if unmeasured > 0 {
		b.warning("joints-assumed", fmt.Sprintf("%d fuses, contacts and crimps are taken as new, nobody measured them", unmeasured),
			"read the millivolts across each with the load on: 5 mΩ show 20 mV at 4 A")
	}
	for _, w := range l.Wires {
		if limit := carriesA(w.Size.Area()); fuseA > 0 && limit < fuseA {
			b.warning("thin-wire", fmt.Sprintf("%s is thin for a %s fuse: it carries about %s for long", cmp.Or(w.Name, w.Size.String()), measure.Show(fuseA, "A"), measure.Show(limit, "A")),
				"take a thicker wire; local rules and the wire maker's figures come first")
		}
	}
}

//go:noinline
func (b *Budget) warning(code, text, hint string) {
	b.Warnings = append(b.Warnings, loadtest.Warning{Code: code, Text: text, Hint: hint})
}
