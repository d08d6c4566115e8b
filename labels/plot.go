package labels

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"packwright/internal/problem"
)

// Plot is resistance over time. Times are unix ms.
type Plot struct {
	Zone     *time.Location // of the dates along it; nil: UTC
	Points   []PlotPoint
	Band     []PlotBand // the trend's line, by time; empty: none
	LimitOhm float64    // ohm; 0: none
	Marks    []PlotMark // repairs and findings

	// When the trend crosses the limit; nil where that cannot be told.
	EarliestMS, LikelyMS, LatestMS *int64
}

// PlotPoint is one test.
type PlotPoint struct {
	AtMS         int64
	Ohm, PlusOhm float64 // ohm; the second is the expanded uncertainty, 95 %
	Used         bool    // compared with the others
}

// PlotBand is the trend's line and its interval at a moment.
type PlotBand struct {
	AtMS                 int64
	Ohm, LowOhm, HighOhm float64
	Ahead                bool // after the latest test
}

// PlotMark is something that happened.
type PlotMark struct {
	AtMS  int64
	Words string
}

const mostOhm = 1000.0 // beyond any pack

// check refuses what cannot be drawn.
func (o *Plot) check() error {
	fine := func(v float64) bool { return v >= -mostOhm && v <= mostOhm }
	for _, p := range o.Points {
		if !fine(p.Ohm) || !(p.PlusOhm >= 0 && p.PlusOhm <= mostOhm) || !inTime(p.AtMS) {
			return problem.Invalidf("points", "void that test", "%g Ω ± %g Ω at %d ms cannot be drawn", p.Ohm, p.PlusOhm, p.AtMS)
		}
	}
	for _, b := range o.Band {
		if !fine(b.Ohm) || !fine(b.LowOhm) || !fine(b.HighOhm) || !inTime(b.AtMS) {
			return problem.Invalidf("band", "", "a trend of %g Ω, %g Ω to %g Ω cannot be drawn", b.Ohm, b.LowOhm, b.HighOhm)
		}
	}
	if !(o.LimitOhm >= 0 && o.LimitOhm <= mostOhm) {
		return problem.Invalidf("limit_ohm", "give it in ohm", "a limit of %g Ω cannot be drawn", o.LimitOhm)
	}
	return nil
}

// plotter draws one plot in a frame.
type plotter struct {
	t        *typesetter
	p        *page
	frame    box
	from, to int64 // unix ms, at the left and right edges
	zone     *time.Location
	low, top float64 // ohm, at the lower and upper edges
	step     float64 // ohm between lines
}

func (g *plotter) x(ms int64) float64 {
	return g.frame.x + g.frame.w*float64(ms-g.from)/float64(g.to-g.from)
}

func (g *plotter) y(ohm float64) float64 {
	return g.frame.bottom() - g.frame.h*(min(max(ohm, g.low), g.top)-g.low)/(g.top-g.low)
}

// scale chooses what the frame shows: all tests and the limit, the trend as far
// as it goes, and no wild test's height at the cost of the others.
func (g *plotter) scale(o *Plot) {
	g.from, g.to = math.MaxInt64, math.MinInt64
	times := []*int64{o.EarliestMS, o.LikelyMS, o.LatestMS}
	see := func(ms int64) { g.from, g.to = min(g.from, ms), max(g.to, ms) }
	middle := []float64{o.LimitOhm}
	for _, p := range o.Points {
		see(p.AtMS)
		middle = append(middle, p.Ohm)
	}
	for _, b := range o.Band {
		see(b.AtMS)
	}
	for _, ms := range times {
		if ms != nil {
			see(*ms)
		}
	}
	const dayMS = 86_400_000
	pad := max((g.to-g.from)/40, 3*dayMS)
	g.from, g.to = g.from-pad, g.to+pad

	slices.Sort(middle)
	ceiling := 2.2 * max(o.LimitOhm, middle[len(middle)/2])
	g.low, g.top = math.Inf(1), math.Inf(-1)
	reach := func(v float64) { g.low, g.top = min(g.low, v), max(g.top, min(v, ceiling)) }
	if o.LimitOhm > 0 {
		reach(o.LimitOhm)
	}
	for _, p := range o.Points {
		reach(max(0, p.Ohm-p.PlusOhm))
		reach(p.Ohm + p.PlusOhm)
	}
	for _, b := range o.Band {
		reach(max(0, b.LowOhm))
		reach(b.HighOhm)
	}
	g.step = niceStep((g.top - g.low) / 4)
	g.low = math.Floor(g.low/g.step-0.15) * g.step
	g.low = max(g.low, 0)
	g.top = math.Ceil(g.top/g.step+0.15) * g.step
}

// niceStep is 1, 2 or 5 times a power of ten, at least v.
func niceStep(v float64) float64 {
	if !(v > 1e-5) {
		v = 1e-5
	}
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= v*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// drawPlot draws o into b and gives the marks in the order of their numbers.
func drawPlot(t *typesetter, p *page, b box, o *Plot) []PlotMark {
	if len(o.Points) == 0 {
		p.rect(b, 0.3)
		t.put(p, regular, 10, b.x+b.w/2-t.width(regular, 10, "no test yet")/2, b.y+b.h/2, "no test yet")
		return nil
	}
	const axisMM, headMM, footMM = 13.0, 5.5, 5.0
	g := &plotter{t: t, p: p, zone: cmp.Or(o.Zone, time.UTC), frame: box{b.x + axisMM, b.y + headMM, b.w - axisMM, b.h - headMM - footMM}}
	g.scale(o)
	g.axes()
	g.band(o.Band)
	marks := g.marks(o.Marks)
	g.limit(o)
	for _, point := range o.Points {
		g.point(point)
	}
	p.rect(g.frame, 0.3)
	return marks
}

// axes draws ohms and dates with thin lines across.
func (g *plotter) axes() {
	decimals := max(0, -int(math.Floor(math.Log10(g.step)+1e-9)))
	g.t.put(g.p, regular, 7, g.frame.x-13, g.frame.y-2, "R, Ω")
	for n := 0; ; n++ {
		v := g.low + float64(n)*g.step
		if v > g.top+g.step/100 {
			break
		}
		y := g.y(v)
		g.p.line(g.frame.x-1, y, g.frame.right(), y, 0.05)
		g.t.putRight(g.p, regular, 7, g.frame.x-1.8, y+0.9, strconv.FormatFloat(v, 'f', decimals, 64))
	}
	for _, tick := range ticksBetween(g.from, g.to, 9, g.zone) {
		x := g.x(tick.ms)
		g.p.line(x, g.frame.bottom(), x, g.frame.bottom()+1, 0.2)
		w := g.t.width(regular, 7, tick.words)
		if x-w/2 >= g.frame.x-8 && x+w/2 <= g.frame.right()+1 {
			g.t.put(g.p, regular, 7, x-w/2, g.frame.bottom()+4, tick.words)
		}
	}
}

// band draws the trend: its line, and the interval hatched as far as there are
// tests and broken beyond.
func (g *plotter) band(band []PlotBand) {
	for i := 1; i < len(band); i++ {
		a, b := band[i-1], band[i]
		xa, xb := g.x(a.AtMS), g.x(b.AtMS)
		edges := [][2]point{{{xa, g.y(a.LowOhm)}, {xb, g.y(b.LowOhm)}}, {{xa, g.y(a.HighOhm)}, {xb, g.y(b.HighOhm)}}}
		middle := [2]point{{xa, g.y(a.Ohm)}, {xb, g.y(b.Ohm)}}
		if b.Ahead {
			g.p.dashes(middle[0], middle[1], 2, 1, 0.4)
			for _, e := range edges {
				g.p.dashes(e[0], e[1], 0.8, 0.8, 0.2)
			}
			continue
		}
		g.p.line(middle[0].x, middle[0].y, middle[1].x, middle[1].y, 0.4)
		for _, e := range edges {
			g.p.line(e[0].x, e[0].y, e[1].x, e[1].y, 0.15)
		}
		const every = 1.5
		for x := math.Ceil(xa/every) * every; x < xb; x += every {
			share := (x - xa) / (xb - xa)
			g.p.line(x, edges[0][0].y+share*(edges[0][1].y-edges[0][0].y), x, edges[1][0].y+share*(edges[1][1].y-edges[1][0].y), 0.05)
		}
	}
}

// limit draws the limit, and on it when the trend will cross it.
func (g *plotter) limit(o *Plot) {
	if o.LimitOhm == 0 {
		return
	}
	y := g.y(o.LimitOhm)
	g.p.line(g.frame.x, y, g.frame.right(), y, 0.6)
	words := "limit " + number(o.LimitOhm) + " Ω"
	w := g.t.width(bold, 7, words)
	x := g.freeSpot(o, w+1, y)
	g.p.add(rect{box: box{x, y - 3.6, w + 1, 3}, lineMM: 0.01, white: true})
	g.t.put(g.p, bold, 7, x+0.5, y-1.2, words)
	if o.EarliestMS != nil {
		a, b := g.x(*o.EarliestMS), g.frame.right() // open where there is no last day
		if o.LatestMS != nil {
			b = g.x(*o.LatestMS)
			g.p.line(b, y-2, b, y+2, 0.4)
		}
		g.p.line(a, y, b, y, 1.2)
		g.p.line(a, y-2, a, y+2, 0.4)
	}
	if o.LikelyMS != nil {
		g.p.add(diamond(g.x(*o.LikelyMS), y, 1.8, false))
	}
}

// freeSpot is where words of that width just above y hide the fewest tests: the
// first of several places along the frame.
func (g *plotter) freeSpot(o *Plot, w, y float64) float64 {
	best, fewest := g.frame.x+1, math.MaxInt
	for x := g.frame.x + 1; x+w < g.frame.right()-1; x += w / 2 {
		hidden := 0
		for _, p := range o.Points {
			at, high, low := g.x(p.AtMS), g.y(p.Ohm+p.PlusOhm), g.y(p.Ohm-p.PlusOhm)
			if at > x-1 && at < x+w+1 && high < y && low > y-4 {
				hidden++
			}
		}
		for _, m := range o.Marks {
			if at := g.x(m.AtMS); at > x-0.5 && at < x+w+0.5 {
				hidden++
			}
		}
		if hidden < fewest {
			best, fewest = x, hidden
		}
	}
	return best
}

// point draws a test with its uncertainty; one above the frame is an arrow.
func (g *plotter) point(p PlotPoint) {
	x := g.x(p.AtMS)
	if p.Ohm > g.top {
		y := g.frame.y + 0.3
		g.p.add(shape{points: []point{{x, y}, {x + 1.2, y + 2}, {x - 1.2, y + 2}}, lineMM: 0.25, closed: true, black: p.Used})
		g.t.put(g.p, regular, 6.5, x+1.6, y+2.2, strconv.FormatFloat(p.Ohm, 'g', 2, 64)+" Ω")
		return
	}
	high, low := g.y(p.Ohm+p.PlusOhm), g.y(max(0, p.Ohm-p.PlusOhm))
	g.p.line(x, high, x, low, 0.2)
	g.p.line(x-0.7, high, x+0.7, high, 0.2)
	g.p.line(x-0.7, low, x+0.7, low, 0.2)
	g.p.add(diamond(x, g.y(p.Ohm), 1, p.Used))
}

// marks draws a numbered line for each thing that happened, in order of time.
func (g *plotter) marks(marks []PlotMark) []PlotMark {
	var inside []PlotMark
	for _, m := range marks {
		if m.AtMS >= g.from && m.AtMS <= g.to {
			inside = append(inside, m)
		}
	}
	slices.SortStableFunc(inside, func(a, b PlotMark) int { return cmp.Compare(a.AtMS, b.AtMS) })
	last := math.Inf(-1)
	for i, m := range inside {
		x := g.x(m.AtMS)
		g.p.dashes(point{x, g.frame.y}, point{x, g.frame.bottom()}, 1.5, 1, 0.25)
		const side = 3.8
		at := max(x, last+side+0.3)
		last = at
		g.p.rect(box{at - side/2, g.frame.y - side - 0.4, side, side}, 0.25)
		words := strconv.Itoa(i + 1)
		g.t.put(g.p, bold, 7, at-g.t.width(bold, 7, words)/2, g.frame.y-1.4, words)
	}
	return inside
}
