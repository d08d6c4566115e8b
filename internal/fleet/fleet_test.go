package fleet

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"packwright/internal/journal"
	"packwright/internal/judge"
)

// Pack codes; the last character of each is its check character by MOD 37,36.
const (
	packA = "7K3QXX"
	packB = "10101W"
)

// day0 is a morning in the season, in unix ms: 2026-09-01 08:00 UTC.
const day0 = 1_788_249_600_000

// phone makes entries as a phone does.
type phone struct {
	t     testing.TB
	name  string
	nowMS int64
	clock journal.Clock
	count byte
}

func newPhone(t testing.TB, name string) *phone { return &phone{t: t, name: name, nowMS: day0} }

// makes is the next entry, a minute after the one before.
func (p *phone) makes(kind journal.Kind, pack, body string) journal.Entry {
	p.t.Helper()
	p.nowMS += 60_000
	p.count++
	random := [10]byte{p.count}
	copy(random[1:], p.name)
	e := journal.Entry{
		ID: journal.NewID(p.nowMS, random), V: journal.Version, Kind: kind, Pack: pack,
		Device: p.name, By: "MK", HLC: p.clock.Tick(p.nowMS).String(), Body: json.RawMessage(body),
	}
	if err := e.Check(); err != nil {
		p.t.Fatalf("%s %s: %v", kind, body, err)
	}
	return e
}

// sees tells the phone's clock of an entry of another phone.
func (p *phone) sees(e journal.Entry) {
	s, err := journal.ParseStamp(e.HLC)
	if err != nil {
		p.t.Fatal(err)
	}
	p.clock.Receive(s, p.nowMS)
}

func (p *phone) days(n int) { p.nowMS += int64(n) * dayMS }

// reading is the body of a direct reading, which is clear about its resistance.
func reading(ohm float64) string {
	return fmt.Sprintf(`{"method":"direct-dc","resistance_ohm":[%v],"accuracy_pct":1,"counts":1,"resolution_ohm":0.0001}`, ohm)
}

// nonsense is a test that can be stored but not computed: the voltage rises on load.
const nonsense = `{"method":"known-load","open_v":[12.5],"loaded_v":[12.9],"load_ohm":10,"load_tolerance_pct":1,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`

func voids(e journal.Entry) string { return fmt.Sprintf(`{"entry":%q}`, e.ID) }

func closes(e journal.Entry) string { return fmt.Sprintf(`{"entry":%q,"text":"mended"}`, e.ID) }

func folded(entries ...journal.Entry) *Fleet {
	f := New()
	for _, e := range entries {
		f.Add(e)
	}
	return f
}

func mustPack(t *testing.T, f *Fleet, code string, nowMS int64) Pack {
	t.Helper()
	p, err := f.Pack(code, nowMS)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestCodesOfTheTestsAreCodes(t *testing.T) {
	for _, code := range []string{packA, packB} {
		if read, err := journal.ReadCode(code); err != nil || read != code {
			t.Errorf("%s: %v", code, err)
		}
	}
}

func TestAddSaysWhatIsNew(t *testing.T) {
	p := newPhone(t, "one")
	e := p.makes(journal.PackAdded, packA, `{"name":"Heron 1"}`)
	f := New()
	if !f.Add(e) || f.Add(e) || f.Len() != 1 {
		t.Error("an entry counts once, however often it comes")
	}
	if f.LastHLC() != e.HLC {
		t.Errorf("last stamp %s, want %s", f.LastHLC(), e.HLC)
	}
}

// Two phones change different fields, and one field both: the later stamp wins,
// and the history tells all.
func TestProfileIsLastWriterWinsByField(t *testing.T) {
	one, two := newPhone(t, "one"), newPhone(t, "two")
	added := one.makes(journal.PackAdded, packA, `{"name":"Heron 1","capacity_ah":3,"cells":10,"fuse_a":20}`)
	renamed := one.makes(journal.ProfileChanged, packA, `{"name":"Heron one","connector":"flat two-pole"}`)
	two.days(1)
	two.sees(added) // but not the new name
	other := two.makes(journal.ProfileChanged, packA, `{"name":"Heron I","capacity_ah":2.6}`)
	undone := two.makes(journal.ProfileChanged, packA, `{"cells":9}`)
	undo := two.makes(journal.Voided, packA, voids(undone))

	p := mustPack(t, folded(undo, other, undone, renamed, added), packA, two.nowMS)
	want := Profile{Code: packA, Name: "Heron I", CapacityAh: 2.6, Cells: 10, FuseA: 20, Connector: "flat two-pole"}
	if diff := cmp.Diff(want, p.Profile); diff != "" {
		t.Error(diff)
	}
	type line struct {
		Field, Value string
		Overtaken    bool
	}
	var got []line
	for _, c := range p.History {
		got = append(got, line{c.Field, c.Value, c.Overtaken})
	}
	slices.Reverse(got)
	history := []line{
		{"fuse_a", "20", false}, {"cells", "10", false}, {"capacity_ah", "3", true}, {"name", "Heron 1", true},
		{"connector", "flat two-pole", false}, {"name", "Heron one", true},
		{"capacity_ah", "2.6", false}, {"name", "Heron I", false},
		{"cells", "9", true},
	}
	if diff := cmp.Diff(sortedLines(history), sortedLines(got), cmp.AllowUnexported(line{})); diff != "" {
		t.Error(diff)
	}
	if first := p.History[0]; first.Field != "cells" || !first.Voided || first.VoidedBy != undo.ID {
		t.Errorf("newest change: %+v", first)
	}
}

func sortedLines[T any](lines []T) []T {
	slices.SortFunc(lines, func(a, b T) int {
		x, y := fmt.Sprint(a), fmt.Sprint(b)
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return lines
}

func TestVoidsAndUndo(t *testing.T) {
	p := newPhone(t, "one")
	added := p.makes(journal.PackAdded, packA, `{"name":"Heron 1"}`)
	test := p.makes(journal.DirectReading, packA, reading(0.08))
	void := p.makes(journal.Voided, packA, voids(test))
	undo := p.makes(journal.Voided, "", voids(void))
	redo := p.makes(journal.Voided, packA, voids(undo))
	again := p.makes(journal.Voided, packA, voids(test))

	entries := []journal.Entry{added, test}
	for _, step := range []struct {
		name   string
		entry  journal.Entry
		voided bool
		by     string
	}{
		{"voided", void, true, void.ID},
		{"undone", undo, false, ""},
		{"undo undone", redo, true, void.ID},
		{"voided twice", again, true, again.ID},
	} {
		entries = append(entries, step.entry)
		pack := mustPack(t, folded(entries...), packA, p.nowMS)
		got := pack.Tests[0]
		if got.Voided != step.voided || got.VoidedBy != step.by {
			t.Errorf("%s: voided %v by %q, want %v by %q", step.name, got.Voided, got.VoidedBy, step.voided, step.by)
		}
		want := judge.Competition
		if step.voided {
			want = judge.Untested
		}
		if pack.Outcome != want || pack.Decision.Outcome != want {
			t.Errorf("%s: %s and %s, want %s", step.name, pack.Outcome, pack.Decision.Outcome, want)
		}
		if len(pack.TestIDs) != len(entries) {
			t.Errorf("%s: %d entry ids of %d", step.name, len(pack.TestIDs), len(entries))
		}
	}
}

// An entry can be voided by a later one only, so nothing can void itself or run in a circle.
func TestVoidsThatDoNotCount(t *testing.T) {
	p := newPhone(t, "one")
	p.nowMS += 120_000
	early := p.makes(journal.Voided, "", `{"entry":"01ARYZ6S41TSV4RRFFQ69G5FAV"}`)
	self := p.makes(journal.Voided, "", `{"entry":"01ARYZ6S41TSV4RRFFQ69G5FAV"}`)
	self.Body = json.RawMessage(voids(self))
	test := p.makes(journal.DirectReading, packA, reading(0.08))
	early.Body = json.RawMessage(voids(test))

	f := folded(test, early, self)
	if mustPack(t, f, packA, p.nowMS).Tests[0].Voided {
		t.Error("a test was voided by an entry before it")
	}
	if len(f.voidedBy) != 0 {
		t.Errorf("an entry voided itself: %v", f.voidedBy)
	}
}

// A pack that was added by mistake goes from the overview, but can be looked up and brought back.
func TestVoidedPackGoesAndComesBack(t *testing.T) {
	p := newPhone(t, "one")
	added := p.makes(journal.PackAdded, packA, `{"name":"mistake"}`)
	void := p.makes(journal.Voided, packA, voids(added))
	f := folded(added, void)
	if o := f.Overview(p.nowMS); len(o.Packs) != 0 || f.Has(packA) {
		t.Errorf("still there: %+v", o.Packs)
	}
	if pack := mustPack(t, f, packA, p.nowMS); pack.Name != "" || len(pack.History) != 1 || !pack.History[0].Voided {
		t.Errorf("%+v", pack)
	}
	f.Add(p.makes(journal.Voided, packA, voids(void)))
	if o := f.Overview(p.nowMS); len(o.Packs) != 1 || o.Packs[0].Name != "mistake" || !f.Has(packA) {
		t.Errorf("not back: %+v", o.Packs)
	}
}

func TestPackWithoutItsAddedEntryShows(t *testing.T) {
	p := newPhone(t, "one")
	f := folded(p.makes(journal.DirectReading, packA, reading(0.08)))
	o := f.Overview(p.nowMS)
	if len(o.Packs) != 1 || o.Packs[0].Code != packA || o.Packs[0].Name != "" || o.Packs[0].Outcome != judge.Competition {
		t.Errorf("%+v", o.Packs)
	}
	if _, err := f.Pack(packB, p.nowMS); err == nil {
		t.Error("a pack that nobody mentioned was found")
	}
}

func TestUnknownEntriesChangeNothing(t *testing.T) {
	p := newPhone(t, "one")
	added := p.makes(journal.PackAdded, packA, `{"name":"Heron 1"}`)
	test := p.makes(journal.DirectReading, packA, reading(0.08))
	newer := p.makes(journal.DirectReading, packA, reading(0.5))
	newer.V = journal.Version + 1
	other := p.makes("capacity-check", packA, `{"ah":2.4}`)

	plain := folded(added, test)
	f := folded(newer, added, other, test)
	got, want := f.Overview(p.nowMS), plain.Overview(p.nowMS)
	if ids := got.Packs[0].TestIDs; !slices.Contains(ids, newer.ID) || !slices.Contains(ids, other.ID) {
		t.Errorf("unsent marks need the ids of unknown entries too: %v", ids)
	}
	got.Packs[0].TestIDs = want.Packs[0].TestIDs
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestNotes(t *testing.T) {
	p := newPhone(t, "one")
	first := p.makes(journal.Noted, "", `{"text":"new meter"}`)
	second := p.makes(journal.Noted, "", `{"text":"charger 2 is back"}`)
	onPack := p.makes(journal.Noted, packA, `{"text":"new sleeve"}`)
	void := p.makes(journal.Voided, "", voids(first))
	f := folded(onPack, second, void, first)
	o := f.Overview(p.nowMS)
	if len(o.Notes) != 2 || o.Notes[0].Text != "charger 2 is back" || !o.Notes[1].Voided || o.Notes[0].By != "MK" {
		t.Errorf("%+v", o.Notes)
	}
	if pack := mustPack(t, f, packA, p.nowMS); len(pack.Notes) != 1 || pack.Notes[0].Text != "new sleeve" {
		t.Errorf("%+v", pack.Notes)
	}
}

func TestTeamSettings(t *testing.T) {
	f := New()
	if diff := cmp.Diff(Defaults(), f.Team()); diff != "" {
		t.Error(diff)
	}
	if err := Defaults().Limits.Check(); err != nil {
		t.Error(err)
	}
	one, two := newPhone(t, "one"), newPhone(t, "two")
	first := one.makes(journal.TeamChanged, "", `{"name":"Team Heron","competition_ohm":0.12,"practice_ohm":0.25,"repeats":5}`)
	two.days(1)
	second := two.makes(journal.TeamChanged, "", `{"competition_ohm":0.11,"base_url":"https://pit.local/"}`)
	mistake := two.makes(journal.TeamChanged, "", `{"repeats":1}`)
	void := two.makes(journal.Voided, "", voids(mistake))

	team := folded(void, second, mistake, first).Team()
	if team.Name != "Team Heron" || team.Limits.CompetitionOhm != 0.11 || team.Repeats != 5 || team.BaseURL != "https://pit.local" ||
		team.Limits.PracticeOhm == nil || *team.Limits.PracticeOhm != 0.25 {
		t.Errorf("%+v", team)
	}
	derived := two.makes(journal.TeamChanged, "", `{"practice_ohm":0}`)
	if team := folded(first, second, derived).Team(); team.Limits.PracticeOhm != nil {
		t.Errorf("the practice limit is not derived again: %v", *team.Limits.PracticeOhm)
	}
	clash := two.makes(journal.TeamChanged, "", `{"competition_ohm":0.3}`)
	if team := folded(first, clash).Team(); team.Limits.PracticeOhm != nil {
		t.Errorf("a practice limit of %v stays below a competition limit of 0.3", *team.Limits.PracticeOhm)
	}
}

// What a setting overtook stays in the history, marked; a field is overtaken by a
// later one of its name, whatever else that entry set.
func TestTeamHistory(t *testing.T) {
	if h := New().Overview(day0).TeamHistory; h == nil || len(h) != 0 {
		t.Errorf("no settings, and yet %+v", h)
	}
	p := newPhone(t, "one")
	first := p.makes(journal.TeamChanged, "", `{"competition_ohm":0.12,"load":{"name":"bench","ohm":2.5,"tolerance_pct":1,"lead_ohm":0.01,"rating_w":50,"on_heat_sink":true}}`)
	second := p.makes(journal.TeamChanged, "", `{"competition_ohm":0.11,"load":{"ohm":10,"uncertainty_ohm":0.02,"tempco_ppm_k":100,"lead_ohm":0,"rating_w":0,"on_heat_sink":false}}`)
	mistake := p.makes(journal.TeamChanged, "", `{"competition_ohm":0.3,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`)
	void := p.makes(journal.Voided, "", voids(mistake))
	third := p.makes(journal.TeamChanged, "", `{"robot":{"rest_v":12.8,"brownout_v":8.8,"peak_a":20},"practice_ohm":0}`)

	type line struct {
		Entry, Field, Value string
		Overtaken, Voided   bool
	}
	var got []line
	for _, c := range folded(third, void, mistake, second, first).Overview(p.nowMS).TeamHistory {
		got = append(got, line{c.Entry, c.Field, c.Value, c.Overtaken, c.Voided})
	}
	want := []line{
		{third.ID, "robot", "rests at 12.8 V, browns out at 8.8 V, peak 20 A", false, false},
		{third.ID, "practice_ohm", "0", false, false},
		{mistake.ID, "meter", "0.5%+2, last digit 0.01 V", true, true},
		{mistake.ID, "competition_ohm", "0.3", true, true},
		{second.ID, "load", "10 Ω, u = 0.02 Ω, ± 100 ppm/K", false, false},
		{second.ID, "competition_ohm", "0.11", false, false},
		{first.ID, "load", "bench, 2.5 Ω, ± 1 %, leads 0.01 Ω, 50 W, on a heat sink", true, false},
		{first.ID, "competition_ohm", "0.12", true, false},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
