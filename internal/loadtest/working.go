package loadtest

import (
	"math"
	"strconv"
	"strings"

	"packwright/internal/measure"
)

const knownLoadScript = `
open-circuit voltage | V0 | as read | {V0.one}
open-circuit voltage, mean of {n} | V0 = Σ V0ᵢ / n | ({V0.list}) V / {n} | {V0}
voltage on load | V1 | as read | {V1.one}
voltage on load, mean of {n} | V1 = Σ V1ᵢ / n | ({V1.list}) V / {n} | {V1}
sag | ΔV = V0 − V1 | {V0} − {V1} | {ΔV}
current through the load | I = V1 / (R_L + r_w) | {V1} / ({R_L} + {r_w}) | {I}
resistance of the pack | R = ΔV / I | {ΔV} / {I} | {R}
the same in one line | R = (R_L + r_w) · (V0 / V1 − 1) | ({R_L} + {r_w}) · ({V0} / {V1} − 1) | {R}
power in the load | P = I² · R_L | ({I})² · {R_L} | {P}
energy into the load until the reading | E = P · t | {P} · {t} | {E}
last digits of the display, each reading | u = n · d / √3 | {counts} · {d} / √3 | {u.d}
gain of the meter, off by {g}, cancels | (g·V0) / (g·V1) = V0 / V1 | ({1+g}·{V0}) / ({1+g}·{V1}) | {V0/V1}, whatever g is
`

const twoLoadsScript = `
voltage on the larger load | V1 | as read | {V1.one}
voltage on the larger load, mean of {n} | V1 = Σ V1ᵢ / n | ({V1.list}) V / {n} | {V1}
voltage on the smaller load | V2 | as read | {V2.one}
voltage on the smaller load, mean of {n} | V2 = Σ V2ᵢ / n | ({V2.list}) V / {n} | {V2}
current through the larger load | I1 = V1 / (R_1 + r_w) | {V1} / ({R_1} + {r_w}) | {I1}
current through the smaller load | I2 = V2 / (R_2 + r_w) | {V2} / ({R_2} + {r_w}) | {I}
change of voltage | ΔV = V1 − V2 | {V1} − {V2} | {ΔV}
change of current | ΔI = I2 − I1 | {I} − {I1} | {ΔI}
resistance of the pack | R = ΔV / ΔI | {ΔV} / {ΔI} | {R}
power in the smaller load | P = I2² · R_2 | ({I})² · {R_2} | {P}
energy into the smaller load until the reading | E = P · t | {P} · {t} | {E}
last digits of the display, each reading | u = n · d / √3 | {counts} · {d} / √3 | {u.d}
gain of the meter, off by {g}, cancels | (g·ΔV) / (g·ΔI) = ΔV / ΔI | ({1+g}·{ΔV}) / ({1+g}·{ΔI}) | {R}, whatever g is
`

const measuredCurrentScript = `
open-circuit voltage | V0 | as read | {V0.one}
open-circuit voltage, mean of {n} | V0 = Σ V0ᵢ / n | ({V0.list}) V / {n} | {V0}
voltage on load | V1 | as read | {V1.one}
voltage on load, mean of {n} | V1 = Σ V1ᵢ / n | ({V1.list}) V / {n} | {V1}
current | I | as read | {I.one}
current, mean of {n} | I = Σ Iᵢ / n | ({I.list}) A / {n} | {I}
sag | ΔV = V0 − V1 | {V0} − {V1} | {ΔV}
resistance of the pack | R = ΔV / I | {ΔV} / {I} | {R}
power in the load | P = V1 · I | {V1} · {I} | {P}
energy into the load until the reading | E = P · t | {P} · {t} | {E}
last digits of the display, each reading | u = n · d / √3 | {counts} · {d} / √3 | {u.d}
gain of the voltmeter, as a factor | u(g) = g / √3 | {g} / √3 | {u.g}
accuracy of the current meter | u(I) = I · a / √3 | {I} · {a} / √3 | {u.I}
last digits of the current meter | u = n · d / √3 | {counts.I} · {d.I} / √3 | {u.dI}
`

const loadScript = `
{load}, as measured | u({load.symbol}) | given | {u.measured}
tolerance of {load} | u({load.symbol}) = {load.symbol} · a / √3 | {load.ohm} · {a} / √3 | {u.tolerance}
heating of {load} | u(δ{load.symbol}) = {load.symbol} · α · ΔT / √3 | {load.ohm} · {α} · {ΔT} / √3 | {u.heating}
`

const directScript = `
resistance as read | R | as read | {R.one}
resistance as read, mean of {n} | R = Σ Rᵢ / n | ({R.list}) Ω / {n} | {R}
accuracy of the instrument | u = R · a / √3 | {R} · {a} / √3 | {u.a}
last digits of the display | u = n · d / √3 | {counts} · {d} / √3 | {u.d}
`

const scatterScript = `
scatter of the repeats, each set worked out alone | {u_i} = s(R) / √n | {s} / √{n} | {part}
`

const partScript = `
in R: {source} | {u_i} = {∂R} · u({quantity}) | {c} · {u.x} | {part}
`

const uncertaintyScript = `
standard uncertainty | u(R) = √({names}) | √({terms}) | {u}
coverage factor for 95 %, normal distribution | k = t95(ν) | t95(∞) | {k.normal}
effective degrees of freedom | ν = u(R)⁴ / Σ (uᵢ⁴ / νᵢ) | ({u})⁴ / ({dofs}) | {ν}
coverage factor for 95 %, Student's t | k = t95(ν) | t95({ν}) | {k.student}
expanded uncertainty | U = k · u(R) | {k} · {u} | {U}
result, an upper bound | R + U | {R} + {U} | at most {bound}
result, 95 % | R ± U | {R} ± {U} | {interval}
`

// workingOf writes a load test out.
func workingOf(t *Test, m *model, r *Result) []Step {
	b := newBoard()
	b.put("ΔV", m.sag, "V")
	b.put("R", m.resistance, "Ω")
	b.put("P", m.power, "W")
	b.put("r_w", t.LeadOhm, "Ω")
	if t.ReadAfterS != nil {
		b.put("t", *t.ReadAfterS, "s")
		b.put("E", *r.LoadEnergyJ, "J")
	}
	b.display(t.Meter.Counts, t.Meter.ResolutionV, "V")
	b.put("g", t.Meter.ReadingPct, "%")
	if t.Meter.ReadingPct > 0 {
		b.set("1+g", measure.ShowDigits(1+t.Meter.ReadingPct/100, 7, ""))
	}
	switch t.Method {
	case KnownLoad:
		b.readings("V0", "V", t.Meter.ResolutionV, t.OpenV, m.open)
		b.readings("V1", "V", t.Meter.ResolutionV, t.LoadedV, m.loaded)
		b.set("V0/V1", measure.ShowDigits(m.open/m.loaded, 6, ""))
		b.put("I", m.current, "A")
		b.put("R_L", t.LoadOhm, "Ω")
		b.write(knownLoadScript)
		b.load(t, "the load", "R_L", t.LoadOhm)
	case TwoLoads:
		v1 := mean(t.Loaded1V)
		i1 := v1 / (t.Load1Ohm + t.LeadOhm)
		b.readings("V1", "V", t.Meter.ResolutionV, t.Loaded1V, v1)
		b.readings("V2", "V", t.Meter.ResolutionV, t.Loaded2V, m.loaded)
		b.put("I", m.current, "A")
		b.put("I1", i1, "A")
		b.put("ΔI", m.current-i1, "A")
		b.put("R_1", t.Load1Ohm, "Ω")
		b.put("R_2", t.Load2Ohm, "Ω")
		b.write(twoLoadsScript)
		b.load(t, "the larger load", "R_1", t.Load1Ohm)
		b.load(t, "the smaller load", "R_2", t.Load2Ohm)
	case MeasuredCurrent:
		b.readings("V0", "V", t.Meter.ResolutionV, t.OpenV, m.open)
		b.readings("V1", "V", t.Meter.ResolutionV, t.LoadedV, m.loaded)
		b.small("u.g", gain(t.Meter).StdUnc, "")
		b.current(t, m.current)
		b.write(measuredCurrentScript)
	}
	b.uncertainty(r)
	return b.steps
}

// directWorking writes a direct reading out.
func directWorking(d *Direct, m *model, r *Result) []Step {
	b := newBoard()
	b.readings("R", "Ω", d.ResolutionOhm, d.ResistanceOhm, m.resistance)
	b.put("a", d.AccuracyPct, "%")
	b.small("u.a", m.resistance*d.AccuracyPct/100/math.Sqrt(3), "Ω")
	b.display(d.Counts, d.ResolutionOhm, "Ω")
	b.write(directScript)
	b.uncertainty(r)
	return b.steps
}

func (b *board) display(counts, resolution float64, unit string) {
	b.put("counts", max(counts, leastCounts), "")
	b.put("d", resolution, unit)
	b.small("u.d", display(counts, resolution).StdUnc, unit)
}

func (b *board) current(t *Test, i float64) {
	pct, counts, resolution := currentMeter(t)
	b.readings("I", "A", resolution, t.CurrentA, i)
	b.put("a", pct, "%")
	b.small("u.I", i*pct/100/math.Sqrt(3), "A")
	if resolution > 0 {
		b.put("counts.I", max(counts, leastCounts), "")
		b.put("d.I", resolution, "A")
		b.small("u.dI", display(counts, resolution).StdUnc, "A")
	}
}

// load shows the uncertainty of one resistor.
func (b *board) load(t *Test, name, symbol string, ohm float64) {
	b.set("load", name)
	b.set("load.symbol", symbol)
	b.put("load.ohm", ohm, "Ω")
	if t.LoadUncertaintyOhm != nil {
		b.small("u.measured", *t.LoadUncertaintyOhm, "Ω")
	} else {
		pct := usualTolerancePct
		if t.LoadTolerancePct != nil {
			pct = *t.LoadTolerancePct
		}
		b.put("a", pct, "%")
		b.small("u.tolerance", ohm*pct/100/math.Sqrt(3), "Ω")
	}
	if t.LoadTempcoPpmK != nil && t.LoadRiseK != nil {
		b.put("α", *t.LoadTempcoPpmK, "ppm/K")
		b.put("ΔT", *t.LoadRiseK, "K")
		b.small("u.heating", math.Abs(ohm**t.LoadTempcoPpmK*1e-6**t.LoadRiseK)/math.Sqrt(3), "Ω")
	}
	b.write(loadScript)
}

// uncertainty shows how the budget is combined and expanded.
func (b *board) uncertainty(r *Result) {
	var terms, names, dofs []string
	for i := range r.Budget {
		l := &r.Budget[i]
		if l.ContributionOhm == 0 {
			continue
		}
		name, part := "u"+strconv.Itoa(len(names)+1), small(l.ContributionOhm, "Ω")
		names = append(names, name+"²")
		terms = append(terms, "("+part+")²")
		if l.DegreesOfFreedom != nil {
			dofs = append(dofs, "("+part+")⁴ / "+measure.Show(*l.DegreesOfFreedom, ""))
		}
		b.set("u_i", name)
		b.set("part", part)
		if l.Source == Scatter {
			b.small("s", l.StdUnc*math.Sqrt(float64(r.Repeats)), "Ω")
			b.write(scatterScript)
		} else if l.Sensitivity != 1 {
			b.set("source", l.Source)
			b.set("∂R", sensitivityFormula(r.Method, l.Quantity))
			b.set("quantity", l.Quantity)
			b.small("c", math.Abs(l.Sensitivity), l.SensitivityUnit())
			b.small("u.x", l.StdUnc, l.Unit)
			b.write(partScript)
		}
	}
	b.set("names", strings.Join(names, " + "))
	b.set("terms", strings.Join(terms, " + "))
	b.small("u", r.StandardUncertaintyOhm, "Ω")
	b.put("k", r.CoverageFactor, "")
	b.small("U", r.ExpandedUncertaintyOhm, "Ω")
	if r.DegreesOfFreedom == nil {
		b.put("k.normal", r.CoverageFactor, "")
	} else {
		b.put("k.student", r.CoverageFactor, "")
		b.set("dofs", strings.Join(dofs, " + "))
		b.set("ν", many(*r.DegreesOfFreedom))
	}
	if r.BoundOnly {
		b.set("bound", measure.ShowRough(*r.UpperBoundOhm, "Ω"))
	} else {
		b.set("interval", measure.ShowInterval(r.ResistanceOhm, r.ExpandedUncertaintyOhm, "Ω"))
	}
	b.write(uncertaintyScript)
}

// sensitivityFormula is the size of ∂R/∂quantity, in symbols.
func sensitivityFormula(method Method, quantity string) string {
	quantity = strings.TrimPrefix(quantity, "δ")
	switch method {
	case MeasuredCurrent:
		switch quantity {
		case "I":
			return "R / I"
		case "g":
			return "R"
		}
		return "1 / I"
	case TwoLoads:
		switch quantity[:2] {
		case "R_":
			return "R · I" + quantity[2:] + " / (ΔI · (" + quantity + " + r_w))"
		case "r_":
			return "(∂R/∂R_1 + ∂R/∂R_2)"
		}
		return "(1 + R / (R_" + quantity[1:] + " + r_w)) / ΔI"
	}
	switch quantity {
	case "V0":
		return "(R_L + r_w) / V1"
	case "V1":
		return "(R_L + r_w) · V0 / V1²"
	}
	return "(V0 / V1 − 1)" // R_L, r_w
}

// many writes degrees of freedom; beyond some number it no longer matters.
func many(dof float64) string {
	if dof > 10000 {
		return "over 10000"
	}
	return measure.Show(dof, "")
}
