package drive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/edge"
	"packwright/internal/judge"
	"packwright/internal/problem"
)

func ask() Question {
	return Question{PackOhm: 0.095, PackStdUnc: 0.004, Cells: 10, ChargePct: 100, Robot: judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20}}
}

func answer(t *testing.T, q Question) Answer {
	t.Helper()
	a, err := Compute(q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestFull: at full charge the greatest resistance is the one by which packs are
// judged: 12.8 V, 8.8 V and 20 A come to 0.2 Ω.
func TestFull(t *testing.T) {
	q := ask()
	a := answer(t, q)
	most, err := q.Robot.MaxResistanceOhm()
	if err != nil || a.MaxOhm.Value != most || !near(most, 0.2, 1e-15) {
		t.Errorf("%g Ω here, %g Ω where packs are judged, %v", a.MaxOhm.Value, most, err)
	}
	if !near(a.LoadedV.Value, 10.9, 1e-12) || !near(a.MarginV.Value, 2.1, 1e-12) || !near(a.BrownoutA.Value, 4/0.095, 1e-9) {
		t.Errorf("%+v", a)
	}
	// Of the voltages left at 20 A in a table of 12.8 V − I · R (calculated).
	for ohm, left := range map[float64]float64{0.08: 11.2, 0.1: 10.8, 0.15: 9.8, 0.2: 8.8} {
		q.PackOhm = ohm
		if got := answer(t, q).LoadedV.Value; !near(got, left, 1e-12) {
			t.Errorf("%g Ω: %g V, want %g V", ohm, got, left)
		}
	}
}

// TestMonteCarlo: propagation of distributions (JCGM 101:2008) through the whole
// equation agrees with every figure's interval and with the chance of holding.
func TestMonteCarlo(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, pct := range []float64{100, 95, 50, 12} {
		q := ask()
		q.PackOhm, q.ChargePct = 0.17, pct
		a := answer(t, q)
		v, parts := open(10, pct, q.Robot.RestV)
		g, plus := growth(pct)
		const n = 100_000
		var loaded, amps, most [n]float64
		held := 0
		for i := range n {
			openV := v
			for _, p := range parts {
				openV += p.StdUnc * math.Sqrt(3) * (2*r.Float64() - 1)
			}
			ohm := (q.PackOhm + q.PackStdUnc*r.NormFloat64()) * (g + plus*(2*r.Float64()-1))
			loaded[i], amps[i], most[i] = openV-20*ohm, (openV-8.8)/ohm, (openV-8.8)/20
			if loaded[i] > 8.8 {
				held++
			}
		}
		for name, c := range map[string]struct {
			f         Figure
			draws     []float64
			tolerance float64 // of the interval's half-width, relative
		}{"loaded": {a.LoadedV, loaded[:], 0.04}, "amps": {a.BrownoutA, amps[:], 0.08}, "most": {a.MaxOhm, most[:], 0.06}} {
			mean, sq := 0.0, 0.0
			for _, x := range c.draws {
				mean += x / n
			}
			for _, x := range c.draws {
				sq += (x - mean) * (x - mean) / n
			}
			if half := 1.96 * math.Sqrt(sq); !near(*c.f.Plus/half, 1, c.tolerance) || !near(mean, c.f.Value, 0.15*half) {
				t.Errorf("%g %%, %s: %g ± %g, draws %g ± %g", pct, name, c.f.Value, *c.f.Plus, mean, half)
			}
		}
		if share := float64(held) / n; !near(a.Holds, share, 0.02) {
			t.Errorf("%g %%: holds %g, draws %g", pct, a.Holds, share)
		}
	}
}

// TestSentences: what the driver is told.
func TestSentences(t *testing.T) {
	for _, c := range []struct {
		ohm, pct, brownout float64
		want               string
	}{
		{0.095, 100, 8.8, "At 20 A it keeps 10.9 V: 2.1 V above brown-out."},
		{0.19, 100, 8.8, "At 20 A it keeps 9.0 V: 0.2 V above brown-out, but that is not sure (92 %)."},
		{0.22, 100, 8.8, "At 20 A it falls to 8.4 V: 0.4 V below brown-out, which comes at 18 A."},
		{0.095, 20, 8.8, "With 20 % of charge, at 20 A it keeps 10.4 V: 1.6 V above brown-out."},
		{0.1, 0, 12.3, "With 0 % of charge, at 20 A it browns out: even at rest it has only 12.0 V."},
		{1, 100, 8.8, "At 20 A it has no voltage left: it cannot drive this robot."},
	} {
		q := ask()
		q.PackOhm, q.ChargePct, q.Robot.BrownoutV = c.ohm, c.pct, c.brownout
		if got := answer(t, q).Text; got != c.want {
			t.Errorf("%g Ω, %g %%:\n got %s\nwant %s", c.ohm, c.pct, got, c.want)
		}
	}
}

// TestFewestDoF: two readings leave one degree of freedom, and rounding in the
// sum that gave it must not cost the answer its uncertainty.
func TestFewestDoF(t *testing.T) {
	q := ask()
	q.PackStdUnc = 0.02
	var plus [2]float64
	for i, dof := range []float64{1, math.Nextafter(1, 0)} {
		q.DoF = &dof
		plus[i] = *answer(t, q).LoadedV.Plus
	}
	if plus[0] != plus[1] || plus[0] < 0.02*20*1.96 {
		t.Errorf("± %g V", plus)
	}
}

func TestWarnings(t *testing.T) {
	nothing := ask()
	nothing.PackStdUnc = math.NaN()
	a := answer(t, nothing)
	if a.LoadedV.Plus != nil || a.MarginV.Plus != nil || a.BrownoutA.Plus != nil || a.MaxOhm.Plus == nil || !(a.Holds > 0.99) {
		t.Errorf("unknown uncertainty: %+v", a)
	}
	for code, change := range map[string]func(*Question){
		UncertaintyUnknown: func(q *Question) { q.PackStdUnc = math.NaN() },
		CannotDeliver:      func(q *Question) { q.PackOhm = 2 },
		NearlyEmpty:        func(q *Question) { q.ChargePct = math.Nextafter(20, 0) },
		RestVoltageLow:     func(q *Question) { q.Robot.RestV = 12.5 },
	} {
		q := ask()
		change(&q)
		if a := answer(t, q); len(a.Warnings) != 1 || a.Warnings[0].Code != code || a.Warnings[0].Hint == "" {
			t.Errorf("%s: %+v", code, a.Warnings)
		}
	}
	if a := answer(t, ask()); len(a.Warnings) != 0 {
		t.Errorf("a plain question: %+v", a.Warnings)
	}
}

// TestWorking: every line has all its parts, and the last figures are the answer's.
func TestWorking(t *testing.T) {
	q := ask()
	q.Working, q.ChargePct = true, 15
	a := answer(t, q)
	for _, s := range a.Working {
		if s.Label == "" || s.Formula == "" || s.Numbers == "" || s.Result == "" {
			t.Errorf("%+v", s)
		}
		if text := s.Numbers + s.Result; strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Errorf("%+v", s)
		}
	}
	if n := len(a.Working); n != 10 {
		t.Errorf("%d steps", n)
	}
}

// TestEdges: what is refused, at the limits and a float beside them.
func TestEdges(t *testing.T) {
	refuses := func(set func(*Question, float64)) func(float64) bool {
		return func(v float64) bool {
			q := ask()
			set(&q, v)
			_, err := Compute(q)
			if _, ok := problem.As(err); err != nil && !ok {
				t.Errorf("%v is not a problem", err)
			}
			return err != nil
		}
	}
	limits := edge.Range("charge", 0, 100, refuses(func(q *Question, v float64) { q.ChargePct = v }))
	limits = append(limits, edge.Range("rest voltage", 11, 16, refuses(func(q *Question, v float64) { q.Robot.RestV = v }))...)
	limits = append(limits,
		edge.Limit{Name: "resistance, lowest", At: 0, Itself: true, Refused: refuses(func(q *Question, v float64) { q.PackOhm = v })},
		edge.Limit{Name: "resistance, highest", At: 100, Above: true, Refused: refuses(func(q *Question, v float64) { q.PackOhm = v })},
		edge.Limit{Name: "degrees of freedom", At: 1 - 1e-9, Refused: refuses(func(q *Question, v float64) { q.DoF = &v })})
	limits = append(limits, edge.Range("uncertainty", 0, 100, refuses(func(q *Question, v float64) { q.PackStdUnc = v }))...)
	edge.Check(t, limits)
	for name, set := range map[string]func(*Question){
		"no cells":         func(q *Question) { q.Cells = 0 },
		"cells of another": func(q *Question) { q.Cells = 6 },
		"NaN":              func(q *Question) { q.PackOhm = math.NaN() },
		"no charge":        func(q *Question) { q.ChargePct = math.NaN() },
		"robot":            func(q *Question) { q.Robot.PeakA = 0 },
	} {
		q := ask()
		set(&q)
		if _, err := Compute(q); err == nil {
			t.Errorf("%s: not refused", name)
		}
	}
}

// TestMoreIsWorse: more resistance, more current and less charge never leave
// more voltage, and nothing in an answer is NaN or infinite.
func TestMoreIsWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		q := Question{PackOhm: draw("ohm", 1e-3, 5), PackStdUnc: draw("u", 0, 1), Cells: 10, ChargePct: draw("pct", 0, 100),
			Robot: judge.Robot{RestV: draw("rest", 11, 16), BrownoutV: draw("brownout", 1, 10.9), PeakA: draw("peak", 0.1, 100)}}
		a, err := Compute(q)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range []Figure{a.OpenV, a.LoadedV, a.MarginV, a.BrownoutA, a.MaxOhm, {Value: a.Holds}} {
			if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) || f.Plus != nil && !(*f.Plus >= 0) {
				t.Fatalf("%+v", a)
			}
		}
		for _, worse := range []func(*Question){
			func(q *Question) { q.PackOhm *= 1.1 }, func(q *Question) { q.Robot.PeakA *= 1.1 }, func(q *Question) { q.ChargePct *= 0.9 },
		} {
			w := q
			worse(&w)
			b, err := Compute(w)
			if err != nil || b.LoadedV.Value > a.LoadedV.Value+1e-9 {
				t.Fatalf("%g V, then %g V for %+v, %v", a.LoadedV.Value, b.LoadedV.Value, w, err)
			}
		}
	})
}

func BenchmarkCompute(b *testing.B) {
	q := ask()
	q.ChargePct = 35
	for b.Loop() {
		if _, err := Compute(q); err != nil {
			b.Fatal(err)
		}
	}
}
