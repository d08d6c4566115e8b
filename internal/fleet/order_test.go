package fleet

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/logged"
)

// drawJournal draws a journal of a few phones and packs: every kind, unknown
// kinds and versions, voids of anything, also of entries that are not there or
// come later, equal stamps, and clocks that jump.
func drawJournal(t *rapid.T) []journal.Entry {
	pack := rapid.SampledFrom([]string{packA, packB})
	ohm := rapid.SampledFrom([]float64{0.05, 0.0999, 0.1, 0.15, 0.3})
	var entries []journal.Entry
	for i := range rapid.IntRange(1, 25).Draw(t, "entries") {
		// Few different times, so that stamps and even ids' times are equal often.
		ms := rapid.SampledFrom([]int64{0, day0, day0 + 1, day0 + 40*dayMS, 4_070_908_800_000}).Draw(t, "ms")
		e := journal.Entry{
			ID: journal.NewID(ms, [10]byte{rapid.Byte().Draw(t, "random"), byte(i)}), V: journal.Version,
			Pack: pack.Draw(t, "pack"), Device: "d", By: "MK",
			HLC: journal.Stamp{MS: ms, Counter: rapid.IntRange(0, 2).Draw(t, "counter")}.String(),
		}
		target := "01ARYZ6S41TSV4RRFFQ69G5FAV" // of an entry that never comes
		if len(entries) > 0 && rapid.IntRange(0, 9).Draw(t, "dangling") > 0 {
			target = rapid.SampledFrom(entries).Draw(t, "target").ID
		}
		body := ""
		e.Kind = rapid.SampledFrom([]journal.Kind{journal.PackAdded, journal.ProfileChanged, journal.LoadTest, journal.DirectReading, journal.Noted,
			journal.Inspected, journal.FindingClosed, journal.TeamChanged, journal.Voided, journal.Voided, "charge-started",
			journal.Repaired, journal.Charged, journal.RunLogged, journal.Wiggled, journal.Imported}).Draw(t, "kind")
		switch e.Kind {
		case journal.PackAdded, journal.ProfileChanged:
			body = fmt.Sprintf(`{"name":"n%d","cells":%d}`, i, rapid.SampledFrom([]int{6, 10}).Draw(t, "cells"))
		case journal.LoadTest:
			body = nonsense
		case journal.DirectReading:
			body = reading(ohm.Draw(t, "ohm"))
			if rapid.Bool().Draw(t, "paper") {
				body = body[:len(body)-1] + `,"taken_at":"2026-09-02T10:00:00Z"}`
			}
			if rapid.Bool().Draw(t, "from a table") { // or with the id of something else
				body = body[:len(body)-1] + fmt.Sprintf(`,"import":%q}`, target)
			}
		case journal.Noted:
			body = fmt.Sprintf(`{"text":"note %d"}`, i)
			e.Pack = rapid.SampledFrom([]string{packA, ""}).Draw(t, "about")
		case journal.Inspected:
			body = fmt.Sprintf(`{"finding":%q}`, rapid.SampledFrom([]journal.Finding{journal.Swollen, journal.Hot, journal.LooseContact, journal.Sound}).Draw(t, "finding"))
		case journal.FindingClosed:
			body = fmt.Sprintf(`{"entry":%q,"text":"done"}`, target)
		case journal.TeamChanged:
			body = fmt.Sprintf(`{"competition_ohm":%v,"wanted_packs":%d,"capacity_%s_pct":%d}`, ohm.Draw(t, "limit"), i,
				rapid.SampledFrom([]string{"good", "end"}).Draw(t, "share"), rapid.IntRange(50, 90).Draw(t, "pct"))
			e.Pack = ""
		case journal.Voided:
			body = fmt.Sprintf(`{"entry":%q}`, target)
			e.Pack = rapid.SampledFrom([]string{packA, ""}).Draw(t, "filed under")
		case journal.Repaired:
			body = fmt.Sprintf(`{"part":%q,"text":"done"%s}`, rapid.SampledFrom([]string{"lead", "other"}).Draw(t, "part"),
				rapid.SampledFrom([]string{"", `,"day":"2026-09-03"`, `,"day":"2090-01-01"`}).Draw(t, "day"))
		case journal.Charged:
			body = fmt.Sprintf(`{"started_at":"2026-09-0%dT10:00:00Z","purpose":"use","ended":"full"}`, rapid.IntRange(1, 3).Draw(t, "started"))
		case journal.RunLogged:
			body = fmt.Sprintf(`{"purpose":"capacity","options":{"cells":0,"load_ohm":10},"rows":[{"time_s":0,"volts":12.5},{"time_s":%d,"volts":9.9}]}`, rapid.SampledFrom([]int{0, 3600}).Draw(t, "took"))
		case journal.Wiggled:
			body = `{"load_ohm":2.5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"spots":[{"place":"still","low_v":12,"high_v":12},{"place":"fuse","low_v":11,"high_v":12}]}`
		case journal.Imported:
			body, e.Pack = `{"file":"old.csv","rows":2}`, ""
		default:
			body = `{"ma":1000}`
		}
		if rapid.IntRange(0, 9).Draw(t, "newer") == 0 {
			e.V = journal.Version + 1
		}
		e.Body = json.RawMessage(body)
		if err := e.Check(); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		entries = append(entries, e)
	}
	return entries
}

// private keeps comparisons to what others see.
var private = cmpopts.IgnoreUnexported(logged.Options{}, logged.Bucket{})

// everything is all that a fleet can tell.
func everything(f *Fleet, nowMS int64) []any {
	all := []any{f.Overview(nowMS), f.LastHLC(), f.Len(), f.Team()}
	for _, code := range []string{packA, packB} {
		p, err := f.Pack(code, nowMS)
		record, ok := f.Record(code, nowMS)
		all = append(all, p, err, f.Has(code), record, ok)
		for _, test := range p.Tests {
			one, err := f.Test(test.Entry, nowMS)
			all = append(all, one, err)
		}
	}
	return all
}

// Whatever the order in which entries arrive, however often each comes and
// whenever somebody looks in between, the fleet tells the same in the end.
func TestOrderOfArrivalDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		entries := drawJournal(t)
		straight := folded(entries...)
		shuffled := New()
		arriving := rapid.Permutation(append(entries, entries[:rapid.IntRange(0, len(entries)).Draw(t, "repeats")]...)).Draw(t, "arriving")
		for _, e := range arriving {
			shuffled.Add(e)
			if rapid.IntRange(0, 4).Draw(t, "look") == 0 {
				everything(shuffled, day0)
			}
		}
		now := rapid.SampledFrom([]int64{0, day0 + 2, day0 + 50*dayMS}).Draw(t, "now")
		if diff := cmp.Diff(everything(straight, now), everything(shuffled, now), private); diff != "" {
			t.Fatal(diff)
		}
	})
}

// As long as a pack's revision stays, its record and the team's settings do.
func TestRevisionTellsOfEveryChange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type known struct {
			revision Revision
			record   Record
			team     Team
		}
		f, seen := New(), map[string][]known{}
		nows := []int64{0, day0 - dayMS, day0 + 2, day0 + 50*dayMS, 4_070_908_800_001}
		for _, e := range rapid.Permutation(drawJournal(t)).Draw(t, "arriving") {
			f.Add(e)
			for _, code := range []string{packA, packB} {
				now := rapid.SampledFrom(nows).Draw(t, "now")
				record, _ := f.Record(code, now)
				is := known{f.Revision(code, now), record, f.Team()}
				for _, was := range seen[code] {
					if was.revision != is.revision {
						continue
					}
					if diff := cmp.Diff([]any{was.record, was.team}, []any{is.record, is.team}, private); diff != "" {
						t.Fatalf("%s at %d, after %s: %s", code, now, e.ID, diff)
					}
				}
				seen[code] = append(seen[code], is)
			}
		}
	})
}

// permutations gives every order of 0 to n−1.
func permutations(n int) [][]int {
	if n == 0 {
		return [][]int{nil}
	}
	var all [][]int
	for _, p := range permutations(n - 1) {
		for at := range n {
			all = append(all, slices.Insert(slices.Clone(p), at, n-1))
		}
	}
	return all
}

// All 120 orders in which a pack, a note, a test, a finding and the voiding of
// that finding can arrive, with a look after each, tell the same.
func TestEveryOrderOfFive(t *testing.T) {
	p := newPhone(t, "one")
	added := p.makes(journal.PackAdded, packA, `{"name":"Heron 1","cells":10}`)
	note := p.makes(journal.Noted, packA, `{"text":"new sleeve"}`)
	test := p.makes(journal.DirectReading, packA, reading(0.08))
	finding := p.makes(journal.Inspected, packA, `{"finding":"swollen"}`)
	entries := []journal.Entry{added, note, test, finding, p.makes(journal.Voided, packA, voids(finding))}
	want := everything(folded(entries...), p.nowMS)
	if pack := mustPack(t, folded(entries...), packA, p.nowMS); pack.Outcome != judge.Competition || pack.Name != "Heron 1" || len(pack.Notes) != 1 || !pack.Findings[0].Voided {
		t.Fatalf("%+v", pack)
	}
	orders := permutations(len(entries))
	if len(orders) != 120 {
		t.Fatalf("%d orders", len(orders))
	}
	for _, order := range orders {
		f := New()
		for _, i := range order {
			f.Add(entries[i])
			f.Overview(p.nowMS)
		}
		if diff := cmp.Diff(want, everything(f, p.nowMS), private); diff != "" {
			t.Fatalf("%v: %s", order, diff)
		}
	}
}
