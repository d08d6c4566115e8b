package logged

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// pack is an equivalent circuit of a pack of ten: an ohmic part, one slow part
// and an open-circuit voltage that falls with the charge taken. Constants are
// of the size that package cells' drive log and module file give, invented in
// detail.
type pack struct {
	r0, r1, tau float64 // ohm, ohm, second
	ocv, fall   float64 // volt, volt per ampere-hour
	used, slow  float64 // ampere-hour, volt
}

func newPack(r0, r1 float64) *pack { return &pack{r0: r0, r1: r1, tau: 13, ocv: 13.2, fall: 0.27} }

// step gives the volts after dt second of that current.
func (p *pack) step(amps, dt float64) float64 {
	p.used += amps * dt / 3600
	p.slow += (amps*p.r1 - p.slow) * (1 - math.Exp(-dt/p.tau))
	return p.ocv - p.fall*p.used - amps*p.r0 - p.slow
}

// drive makes the current of a robot: bursts of random height and length with
// rests between.
type drive struct {
	r    *rand.Rand
	amps float64
	left float64 // second
}

func (d *drive) step(dt float64) float64 {
	if d.left -= dt; d.left <= 0 {
		d.left = 0.3 + 2.5*d.r.Float64()
		d.amps = 0.3
		if d.r.Float64() < 0.6 {
			d.amps = 2 + 18*d.r.Float64()
		}
	}
	return d.amps
}

// driven is a run with noise that lingers for about a second, as a real one has.
func driven(seed uint64, rows int, dt float64, p *pack) []Row {
	r := rand.New(rand.NewPCG(seed, 1))
	d := &drive{r: r}
	noise := 0.0
	var out []Row
	for i := range rows {
		a := d.step(dt)
		noise = 0.9*noise + 0.02*r.NormFloat64()
		out = append(out, Row{Line: i + 2, TimeS: float64(i) * dt, Volts: p.step(a, dt) + noise, Amps: a + 0.03*r.NormFloat64()})
	}
	return out
}

func run(o Options, rows []Row) (Result, error) {
	r, err := NewRun(o)
	if err != nil {
		return Result{}, err
	}
	for _, row := range rows {
		r.Add(row)
	}
	return r.Finish()
}

// asCSV writes rows as a logger does.
func asCSV(head, delimiter, decimal string, rows []Row) string {
	var b strings.Builder
	b.WriteString(head + "\n")
	for _, r := range rows {
		line := fmt.Sprintf("%.3f|%.4f|%.4f\n", r.TimeS, r.Volts, r.Amps)
		b.WriteString(strings.ReplaceAll(strings.ReplaceAll(line, ".", decimal), "|", delimiter))
	}
	return b.String()
}

// readAll looks at a file and runs it in chunks of that size.
func readAll(text string, o Options, chunk int) (Preview, Result, error) {
	p, err := Look([]byte(text[:min(len(text), HeadBytes)]), len(text) <= HeadBytes, o.Cells, nil)
	if err != nil {
		return p, Result{}, err
	}
	a, err := Open(p.Format, o)
	if err != nil {
		return p, Result{}, err
	}
	for b := []byte(text); len(b) > 0; b = b[min(chunk, len(b)):] {
		_, _ = a.Write(b[:min(chunk, len(b))])
	}
	r, err := a.Finish()
	return p, r, err
}
