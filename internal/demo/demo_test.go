package demo

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"testing"
	"time"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
)

// today is the day after the last of the season, in unix ms.
var today = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC).UnixMilli()

// Every entry could be stored as it is, and follows the one before it.
func TestSeasonIsAJournal(t *testing.T) {
	season := Season()
	if len(season) < 250 || len(season) > 350 {
		t.Errorf("%d entries", len(season))
	}
	last, ids := "", map[string]bool{}
	for _, e := range season {
		raw, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		parsed, err := journal.ParseEntry(raw)
		if err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		if err := parsed.Check(); err != nil {
			t.Errorf("%s: %v", raw, err)
		}
		ms, err := journal.IDTime(e.ID)
		if err != nil || ms >= today || e.HLC <= last || ids[e.ID] {
			t.Errorf("%s at %d, stamp %s after %s", e.ID, ms, e.HLC, last)
		}
		last, ids[e.ID] = e.HLC, true
	}
}

// The season is the same on every machine and in the phone's compiler, to the
// last byte. Where the story is changed on purpose, the sum changes with it.
func TestSeasonIsAlwaysTheSame(t *testing.T) {
	raw, err := json.Marshal(Season())
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	const want = "238faa15b5201c9f98770e71c596a083f81d25024c3be3f0ec1064967541240a"
	if got := hex.EncodeToString(sum[:]); got != want {
		t.Errorf("the season has the sum %s, want %s", got, want)
	}
}

// What a capacity check took out goes back in at the next charge, and a little more.
func TestChargesAfterCapacityChecks(t *testing.T) {
	const week = 7 * 24 * 3600 * 1000
	checked, found := map[string]int64{}, 0
	for _, e := range Season() {
		ms, err := journal.IDTime(e.ID)
		if err != nil {
			t.Fatal(err)
		}
		switch e.Kind {
		case journal.RunLogged:
			checked[e.Pack] = ms
		case journal.Charged:
			var c journal.Charge
			if err := json.Unmarshal(e.Body, &c); err != nil {
				t.Fatal(err)
			}
			after := ms-checked[e.Pack] < week
			if after != (c.MissingAh != nil) || after && !(*c.MissingAh > 1 && *c.PutInAh > *c.MissingAh && *c.PutInAh < 1.25**c.MissingAh) {
				t.Errorf("%s: %s, after a capacity check: %t", e.Pack, e.Body, after)
			}
			if after {
				found++
				delete(checked, e.Pack)
			}
		}
	}
	if found != 6 {
		t.Errorf("%d charges after capacity checks, want 6", found)
	}
}

// The story comes out as it is told: every outcome is there, and the first
// screen has something of everything.
func TestSeasonTellsItsStory(t *testing.T) {
	f := fleet.New()
	for _, e := range Season() {
		f.Add(e)
	}
	o := f.Overview(today)
	if o.Team.Name != "Millrace School" || len(o.Packs) != 12 || len(o.Clones) != 0 {
		t.Fatalf("%s with %d packs, clones %q", o.Team.Name, len(o.Packs), o.Clones)
	}
	if want := (fleet.Counts{Competition: 6, Practice: 2, Retest: 1, SetAside: 1, Untested: 1, Retired: 1}); o.Counts != want {
		t.Errorf("%+v, want %+v", o.Counts, want)
	}
	for i, want := range []struct {
		name    string
		outcome judge.Outcome
	}{{"Rook", judge.SetAside}, {"Avocet", judge.Retest}, {"Coot", judge.Untested}, {"Snipe", judge.Competition}} {
		if got := o.Packs[i]; got.Name != want.name || got.Outcome != want.outcome || got.Attention == "" {
			t.Errorf("place %d: %s %s %q, want %s %s", i+1, got.Name, got.Outcome, got.Attention, want.name, want.outcome)
		}
	}
	for _, row := range o.Packs {
		p, err := f.Pack(row.Code, today)
		if err != nil {
			t.Fatal(err)
		}
		for _, test := range p.Tests {
			if test.Problem != "" || test.ClockOff {
				t.Errorf("%s: %q, clock off %v", row.Name, test.Problem, test.ClockOff)
			}
		}
	}
}

// What the club measures lies where the circuit says, within the uncertainty it
// states for a test: more than nine in ten, since it states 95 %.
func TestReadingsAgreeWithTheCircuit(t *testing.T) {
	d := newDiary(1, 1)
	p := &pack{code: "7K3QXX", cells: 1.1, contactOhm: 0.02}
	b := bench{ohm: 2.503, uncertainty: new(0.004), trueOhm: 2.5}
	f := fleet.New()
	d.on(date("2026-10-01"), "test", "MK")
	const n = 300
	hit := 0
	for range n {
		e := d.test(p, b, 21)
		f.Add(e)
		got, err := f.Test(e.ID, 0)
		if err != nil || got.Result == nil {
			t.Fatalf("%s: %v %s", e.Body, err, got.Problem)
		}
		want := p.resistance(d.now, readAfterS, 21)
		if diff := got.Result.ResistanceOhm - want; diff < got.Result.ExpandedUncertaintyOhm && diff > -got.Result.ExpandedUncertaintyOhm {
			hit++
		}
	}
	if hit < n*9/10 {
		t.Errorf("%d of %d tests hold the true resistance", hit, n)
	}
}
