package diagnose

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

func TestContact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	jumped := func() Pack { return aPack("A", slices.Concat(steady(r, 0.08, 6), steady(r, 0.1, 6))...) }
	is(t, "a jump that stays", examine(jumped()), ContactOrLead, Likely, false)
	none(t, "a jump of 6 %", examine(aPack("A", slices.Concat(steady(r, 0.08, 6), steady(r, 0.085, 6))...)))
	none(t, "a jump down: a contact that was cleaned, or new cells", examine(aPack("A", slices.Concat(steady(r, 0.1, 6), steady(r, 0.08, 6))...)))
	is(t, "the latest test alone", examine(aPack("A", append(steady(r, 0.08, 9), 0.1)...)), ContactOrLead, Possible, false)
	none(t, "a test among others", examine(aPack("A", slices.Concat(steady(r, 0.08, 6), []float64{0.1}, steady(r, 0.08, 4))...)))

	loose := steady(r, 0.08, 14)
	for _, i := range []int{6, 7, 10, 12} {
		loose[i] += 0.03
	}
	is(t, "it comes and goes", examine(aPack("A", loose...)), ContactOrLead, Likely, false)

	// A summer without tests, over which a fast ager rises as it did before.
	summer := aPack("A", worn(0.08, 0.5, 16)...)
	for i := range summer.Tests {
		summer.Tests[i].ResistanceOhm = 0.08 * (1 + 0.015*float64(i) + 0.01*r.NormFloat64())
		if i >= 8 {
			summer.Tests[i].AtMS += 10 * 7 * dayMS
			summer.Tests[i].ResistanceOhm += 0.08 * 0.15
		}
	}
	is(t, "wear over a summer is no jump", examine(summer), AgeingCells, Likely, false)
}

func TestScatterWithinATest(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	for _, c := range []struct {
		what string
		at   []int
		want Confidence
	}{{"two tests", []int{5, 8}, Likely}, {"the latest", []int{9}, Possible}, {"one long ago", []int{3}, ""}} {
		p := aPack("A", steady(r, 0.08, 10)...)
		for _, i := range c.at {
			p.Tests[i].ScatterOhm = 0.009
		}
		if report := examine(p); c.want == "" {
			none(t, c.what, report)
		} else {
			is(t, c.what, report, ContactOrLead, c.want, false)
		}
	}
}

func TestRepair(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	p := aPack("A", slices.Concat(steady(r, 0.08, 5), steady(r, 0.105, 4), steady(r, 0.08, 5))...)
	p.Repairs = []Repair{{AtMS: onDay(7*9 - 1), Part: journal.RepairConnector}}
	report := examine(p)
	is(t, "it fell back after the repair", report, ContactOrLead, Plain, true)
	if report.NextTest != nil {
		t.Errorf("what is mended calls for %+v", *report.NextTest)
	}
	p = aPack("A", slices.Concat(steady(r, 0.08, 5), steady(r, 0.105, 9))...)
	p.Repairs = []Repair{{AtMS: onDay(7*9 - 1), Part: journal.RepairLead}}
	is(t, "the repair changed nothing", examine(p), ContactOrLead, Likely, false)
	p = aPack("A", 0.08, 0.0802, 0.0798, 0.08, 0.0801, 0.1, 0.1002, 0.0998, 0.1, 0.093, 0.0932, 0.0928, 0.093)
	p.Repairs = []Repair{{AtMS: onDay(7*9 - 1), Part: journal.RepairLead}}
	is(t, "the repair brought it back a third", examine(p), ContactOrLead, Likely, true)
	p = aPack("A", steady(r, 0.08, 12)...)
	p.Repairs = []Repair{{AtMS: onDay(7*9 - 1), Part: journal.RepairLead}}
	none(t, "a new lead on a good pack", examine(p))
}

func aWiggle(lowAtFuse float64) journal.Wiggle {
	return journal.Wiggle{LoadOhm: 2.5, Meter: loadtest.Meter{Counts: 2, ResolutionV: 0.01}, Spots: []journal.WiggleSpot{
		{Place: journal.Still, LowV: 12.50, HighV: 12.51}, {Place: journal.AtConnector, LowV: 12.49, HighV: 12.50}, {Place: journal.AtFuse, LowV: lowAtFuse, HighV: 12.50},
	}}
}

// Worked by hand: 12.50 − 12.30 less 0.01 V still is 0.19 V; 2.5 Ω · 0.19/12.30 =
// 38.6 mΩ; four readings of ±2 digits of 10 mV: U = 2·2·0.02/√3 = 46 mV (JCGM 100
// 4.3.7 and 5.1.2).
func TestJudgeWiggle(t *testing.T) {
	w, err := JudgeWiggle(aWiggle(12.30))
	if err != nil {
		t.Fatal(err)
	}
	fuse := w.Spots[2]
	if !fuse.Suspect || w.Spots[0].Suspect || w.Spots[1].Suspect || !within(fuse.ChangeV, 0.19, 1e-9) || !within(*fuse.Ohm, 0.0386, 1e-4) || !within(fuse.PlusV, 0.0462, 1e-4) {
		t.Errorf("%+v", w.Spots)
	}
	if !strings.Contains(w.Text, "at the fuse") || !strings.Contains(w.Text, "39 mΩ") || len(w.Cautions) == 0 || len(w.Working) == 0 {
		t.Errorf("%q, cautions %q, working %v", w.Text, w.Cautions, w.Working)
	}
	if w, err = JudgeWiggle(aWiggle(12.46)); err != nil || w.Spots[2].Suspect || !strings.Contains(w.Text, "seems sound") {
		t.Errorf("40 mV less: %v %+v", err, w)
	}
	for _, bad := range []func(*journal.Wiggle){
		func(w *journal.Wiggle) { w.LoadOhm = 0 }, func(w *journal.Wiggle) { w.Spots = nil }, func(w *journal.Wiggle) { w.Spots = w.Spots[1:] }, func(w *journal.Wiggle) { w.Spots = w.Spots[:1] },
		func(w *journal.Wiggle) { w.Spots[1].LowV = 13 }, func(w *journal.Wiggle) { w.Spots[1].HighV = nan }, func(w *journal.Wiggle) { w.Meter.ResolutionV = 0 }, func(w *journal.Wiggle) { w.Spots = make([]journal.WiggleSpot, 51) },
	} {
		w := aWiggle(12.3)
		bad(&w)
		if got, err := JudgeWiggle(w); err == nil {
			t.Errorf("%+v was judged: %+v", w, got)
		}
	}
}

func TestWiggleInAReport(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 1))
	p := aPack("A", steady(r, 0.08, 8)...)
	p.Wiggles = []Wiggle{{Entry: "w", AtMS: onDay(50), Wiggle: aWiggle(12.3)}}
	is(t, "a wiggle test alone", examine(p), ContactOrLead, Likely, false)
	p = aPack("A", slices.Concat(steady(r, 0.08, 5), steady(r, 0.11, 5))...)
	p.Wiggles = []Wiggle{{Entry: "w", AtMS: onDay(70), Wiggle: aWiggle(12.3)}}
	is(t, "with a jump", examine(p), ContactOrLead, Plain, false)
	p.Wiggles[0].Wiggle = aWiggle(12.49)
	report := examine(p)
	is(t, "with a jump, and nothing moved", report, ContactOrLead, Likely, false)
	if got := report.Findings[0].Evidence; !strings.Contains(got[len(got)-1], "moved nothing") {
		t.Errorf("%q", got)
	}
}
