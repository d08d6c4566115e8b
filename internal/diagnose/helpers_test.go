package diagnose

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"packwright/internal/loadtest"
	"packwright/internal/trend"
)

const day0 = int64(1_780_000_000_000)

func onDay(d float64) int64 { return day0 + int64(d*dayMS) }

// aPack is a pack with a test a week: full, rested, at 20 °C, 13.4 V open.
func aPack(code string, ohm ...float64) Pack {
	p := Pack{Code: code, Name: "pack " + code, Cells: 10, RatedAh: 3}
	for i, v := range ohm {
		p.Tests = append(p.Tests, Test{
			Test: trend.Test{
				ID: code + "-" + strconv.Itoa(i), AtMS: onDay(7 * float64(i)), Method: loadtest.KnownLoad, ResistanceOhm: v, OwnStdUncOhm: 0.0005,
				LoadOhm: 2.5, ReadAfterS: new(5.0), TemperatureC: new(20.0), Charge: loadtest.ChargeFull,
			},
			OpenV: new(13.4), RestedMin: new(120.0), ScatterOhm: 0.0005, ExplainedOhm: 0.001, Repeats: 3, Rig: "bench",
		})
	}
	return p
}

// steady are n tests about a level with a scatter of 1 %.
func steady(r *rand.Rand, level float64, n int) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = level * (1 + 0.01*r.NormFloat64())
	}
	return list
}

// sisters are healthy packs, n tests each.
func sisters(count, n int) []Pack {
	r := rand.New(rand.NewPCG(3, 5))
	list := make([]Pack, count)
	for i := range list {
		list[i] = aPack("S"+strconv.Itoa(i), steady(r, 0.07+0.003*float64(i), n)...)
	}
	return list
}

// find gives the finding of a cause, or nil.
func find(r Report, c Cause) *Finding {
	for i := range r.Findings {
		if r.Findings[i].Cause == c {
			return &r.Findings[i]
		}
	}
	return nil
}

// is checks that a report has one finding, of that cause and confidence.
func is(t *testing.T, what string, r Report, c Cause, sure Confidence, past bool) {
	t.Helper()
	f := find(r, c)
	if f == nil || len(r.Findings) != 1 || f.Confidence != sure || f.Past != past {
		t.Errorf("%s: %+v, want %s, %s, past %v", what, r.Findings, c, sure, past)
		return
	}
	if f.Title == "" || len(f.Evidence) == 0 || f.Action == "" || f.Rule == "" || f.SinceMS == 0 || f.Tests == nil {
		t.Errorf("%s: something is not said: %+v", what, *f)
	}
}

func none(t *testing.T, what string, r Report) {
	t.Helper()
	if len(r.Findings) > 0 || r.Findings == nil {
		t.Errorf("%s: %+v, want none", what, r.Findings)
	}
}

func nextUp(v float64) float64   { return math.Nextafter(v, math.Inf(1)) }
func nextDown(v float64) float64 { return math.Nextafter(v, math.Inf(-1)) }
