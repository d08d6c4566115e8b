package fleet

import (
	"strings"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/judge"
)

func TestLatestUsableTestDecides(t *testing.T) {
	p := newPhone(t, "one")
	good := p.makes(journal.DirectReading, packA, reading(0.08))
	p.days(1)
	worn := p.makes(journal.DirectReading, packA, reading(0.15))
	p.days(1)
	bad := p.makes(journal.LoadTest, packA, nonsense)

	pack := mustPack(t, folded(bad, good, worn), packA, p.nowMS)
	if pack.Outcome != judge.Practice || *pack.ResistanceOhm != 0.15 {
		t.Errorf("%s at %v", pack.Outcome, *pack.ResistanceOhm)
	}
	if days := *pack.DaysSinceTest; days < 1 || days > 1.01 {
		t.Errorf("%v days since the test", days)
	}
	if pack.Decision.Outcome != pack.Outcome || pack.Decision.Reason != pack.Reason {
		t.Errorf("row and decision differ: %q, %q", pack.Reason, pack.Decision.Reason)
	}
	newest := pack.Tests[0]
	if newest.Entry != bad.ID || newest.Result != nil || newest.Problem == "" || newest.Test == nil {
		t.Errorf("newest: %+v", newest)
	}
	if oldest := pack.Tests[2]; oldest.Entry != good.ID || oldest.Decision.Outcome != judge.Competition || oldest.Direct == nil {
		t.Errorf("oldest: %+v", oldest)
	}
}

// A test typed in from paper counts at the time it was taken, not typed; and not
// later than it was typed.
func TestTestsFromPaper(t *testing.T) {
	p := newPhone(t, "one")
	p.days(5)
	fresh := p.makes(journal.DirectReading, packA, reading(0.15))
	body := strings.TrimSuffix(reading(0.08), "}") + `,"taken_at":"2026-09-02T10:00:00Z"}`
	paper := p.makes(journal.DirectReading, packA, body)
	future := p.makes(journal.DirectReading, packB, strings.Replace(body, "2026", "2062", 1))
	later := p.makes(journal.DirectReading, packB, reading(0.15))

	f := folded(paper, fresh, later, future)
	pack := mustPack(t, f, packA, p.nowMS)
	if *pack.ResistanceOhm != 0.15 || pack.Tests[0].Entry != fresh.ID || pack.Tests[1].Entry != paper.ID {
		t.Errorf("%v Ω, newest %s", *pack.ResistanceOhm, pack.Tests[0].Entry)
	}
	if at := pack.Tests[1].AtMS; at != 1_788_343_200_000 { // 2026-09-02 10:00 UTC
		t.Errorf("taken at %d", at)
	}
	other := mustPack(t, f, packB, p.nowMS)
	if *other.ResistanceOhm != 0.15 || !other.Tests[1].ClockOff || other.Tests[0].ClockOff {
		t.Errorf("a slip of the pen wins: %+v", other.Tests)
	}
}

// The results follow the profile: a load test is computed with the pack's cells.
func TestResultsFollowTheProfile(t *testing.T) {
	p := newPhone(t, "one")
	six := `{"method":"known-load","open_v":[7.9,7.9,7.9],"loaded_v":[7.84,7.84,7.84],"load_ohm":10,"load_tolerance_pct":1,"meter":{"reading_pct":0.5,"counts":1,"resolution_v":0.001}}`
	added := p.makes(journal.PackAdded, packA, `{"cells":10}`)
	test := p.makes(journal.LoadTest, packA, six)
	f := folded(added, test)
	first := mustPack(t, f, packA, p.nowMS)
	f.Add(p.makes(journal.ProfileChanged, packA, `{"cells":6}`))
	second := mustPack(t, f, packA, p.nowMS)
	if first.Tests[0].Problem == "" && second.Tests[0].Problem == "" && len(first.Tests[0].Result.Warnings) <= len(second.Tests[0].Result.Warnings) {
		t.Errorf("7.9 V is as plausible on ten cells as on six: %+v", first.Tests[0])
	}
	if second.Tests[0].Result == nil {
		t.Errorf("six cells: %s", second.Tests[0].Problem)
	}
}

func TestSafetyFindings(t *testing.T) {
	p := newPhone(t, "one")
	test := p.makes(journal.DirectReading, packA, reading(0.08))
	swollen := p.makes(journal.Inspected, packA, `{"finding":"swollen","text":"cell 4"}`)
	smell := p.makes(journal.Inspected, packA, `{"finding":"other-safety","text":" smells "}`)
	sound := p.makes(journal.Inspected, packA, `{"finding":"sound"}`)
	close1 := p.makes(journal.FindingClosed, packA, closes(swollen))
	void1 := p.makes(journal.Voided, packA, voids(close1))
	void2 := p.makes(journal.Voided, packA, voids(smell))
	close2 := p.makes(journal.FindingClosed, packA, closes(swollen))

	for _, c := range []struct {
		name    string
		entries []journal.Entry
		outcome judge.Outcome
		safety  string
	}{
		{"none", []journal.Entry{test, sound}, judge.Competition, ""},
		{"two", []journal.Entry{smell, test, swollen}, judge.SetAside, "swollen, smells"},
		{"one closed", []journal.Entry{smell, test, swollen, close1}, judge.SetAside, "smells"},
		{"closing voided", []journal.Entry{void1, smell, test, swollen, close1}, judge.SetAside, "swollen, smells"},
		{"finding voided", []journal.Entry{test, smell, void2}, judge.Competition, ""},
		{"all settled", []journal.Entry{test, smell, void2, swollen, close1, void1, close2}, judge.Competition, ""},
		{"untested", []journal.Entry{swollen}, judge.SetAside, "swollen"},
	} {
		f := folded(c.entries...)
		pack := mustPack(t, f, packA, p.nowMS)
		if got := strings.Join(pack.Decision.Safety, ", "); pack.Outcome != c.outcome || pack.Decision.Outcome != c.outcome || got != c.safety {
			t.Errorf("%s: %s for %q, want %s for %q", c.name, pack.Outcome, got, c.outcome, c.safety)
		}
		if c.name == "untested" {
			continue
		}
		one, err := f.Test(test.ID, p.nowMS)
		if err != nil || one.Decision.Outcome != c.outcome {
			t.Errorf("%s: the test says %s, %v", c.name, one.Decision.Outcome, err)
		}
	}
	pack := mustPack(t, folded(test, swollen, close2, sound), packA, p.nowMS)
	if o := pack.Findings[1]; !o.Closed || o.ClosedBy != close2.ID || o.ClosedText != "mended" || o.Text != "cell 4" || !o.Safety {
		t.Errorf("%+v", o)
	}
	if pack.Findings[0].Safety {
		t.Error("a sound pack is no safety finding")
	}
}

// A finding is about the pack as it is now: its latest test weighs it, an older
// one still shows what it said, in the list and by itself.
func TestOlderTestsKeepWhatTheySaid(t *testing.T) {
	p := newPhone(t, "one")
	older := p.makes(journal.DirectReading, packA, reading(0.08))
	latest := p.makes(journal.DirectReading, packA, reading(0.15))
	swollen := p.makes(journal.Inspected, packA, `{"finding":"swollen"}`)
	f := folded(older, latest, swollen)
	pack := mustPack(t, f, packA, p.nowMS)
	for i, c := range []struct {
		entry   journal.Entry
		outcome judge.Outcome
		safety  int
	}{{latest, judge.SetAside, 1}, {older, judge.Competition, 0}} {
		alone, err := f.Test(c.entry.ID, p.nowMS)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range []judge.Decision{alone.Decision, pack.Tests[i].Decision} {
			if pack.Tests[i].Entry != c.entry.ID || d.Outcome != c.outcome || len(d.Safety) != c.safety {
				t.Errorf("test %d: %s for %q, want %s", i, d.Outcome, d.Safety, c.outcome)
			}
		}
	}
}

// Tests typed in from paper were taken in the same minute: the pack names the one
// that its figure and its decision come from, which need not be the newest.
func TestLatestTestIsNamed(t *testing.T) {
	p := newPhone(t, "one")
	paper := func(ohm float64) string {
		return strings.TrimSuffix(reading(ohm), "}") + `,"taken_at":"2026-08-02T10:00:00Z"}`
	}
	first := p.makes(journal.DirectReading, packA, paper(0.08))
	second := p.makes(journal.DirectReading, packA, paper(0.15))
	ac := p.makes(journal.DirectReading, packA, strings.Replace(paper(0.05), "direct-dc", "direct-ac", 1))
	f := folded(second, ac, first)
	pack := mustPack(t, f, packA, p.nowMS)
	if pack.Tests[0].AtMS != pack.Tests[2].AtMS || pack.Tests[0].Entry != ac.ID || pack.LatestTest != second.ID || *pack.ResistanceOhm != 0.15 || pack.Decision.Outcome != judge.Practice {
		t.Errorf("latest test %s at %v Ω: %s", pack.LatestTest, *pack.ResistanceOhm, pack.Decision.Outcome)
	}
	f.Add(p.makes(journal.Voided, packA, voids(second)))
	if row := f.Overview(p.nowMS).Packs[0]; row.LatestTest != first.ID || *row.ResistanceOhm != 0.08 {
		t.Errorf("the second voided: %s at %v Ω", row.LatestTest, *row.ResistanceOhm)
	}
	f.Add(p.makes(journal.Voided, packA, voids(first)))
	f.Add(p.makes(journal.Voided, packA, voids(ac)))
	if row := mustPack(t, f, packA, p.nowMS); row.LatestTest != "" || row.TestedMS != nil {
		t.Errorf("no test is left: %s", row.LatestTest)
	}
}

func TestOneTestHasItsWorking(t *testing.T) {
	p := newPhone(t, "one")
	test := p.makes(journal.LoadTest, packA, `{"method":"known-load","open_v":[12.84,12.84,12.83],"loaded_v":[12.71,12.70,12.71],"load_ohm":10,"load_tolerance_pct":5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`)
	f := folded(test)
	one, err := f.Test(test.ID, p.nowMS)
	if err != nil {
		t.Fatal(err)
	}
	if one.Result == nil || len(one.Result.Working) == 0 || len(one.Decision.Next) == 0 {
		t.Errorf("%+v", one)
	}
	pack := mustPack(t, f, packA, p.nowMS)
	if r := pack.Tests[0].Result; len(r.Working) != 0 || r.ResistanceOhm != one.Result.ResistanceOhm {
		t.Errorf("the list has a working of %d steps and %v Ω", len(r.Working), r.ResistanceOhm)
	}
	for _, id := range []string{"", "nothing", p.makes(journal.Noted, packA, `{"text":"x"}`).ID} {
		if _, err := f.Test(id, p.nowMS); err == nil {
			t.Errorf("%q is a test", id)
		}
	}
}

// An a.c. reading cannot show that a pack is good: it stands for the pack only
// where there is no other test, however new it is.
func TestACReadingsComeSecond(t *testing.T) {
	p := newPhone(t, "one")
	ac := func(ohm float64) string { return strings.Replace(reading(ohm), "direct-dc", "direct-ac", 1) }
	old := p.makes(journal.DirectReading, packA, ac(0.05))
	newer := p.makes(journal.DirectReading, packA, ac(0.06))
	f := folded(old, newer)
	if row := mustPack(t, f, packA, p.nowMS).Row; row.Outcome != judge.Retest || *row.ResistanceOhm != 0.06 {
		t.Errorf("a.c. alone: %s at %v", row.Outcome, *row.ResistanceOhm)
	}
	dc := p.makes(journal.DirectReading, packA, reading(0.15))
	p.days(1)
	last := p.makes(journal.DirectReading, packA, ac(0.05))
	f.Add(dc)
	f.Add(last)
	pack := mustPack(t, f, packA, p.nowMS)
	if pack.Outcome != judge.Practice || *pack.ResistanceOhm != 0.15 || *pack.DaysSinceTest < 1 || pack.Tests[0].Entry != last.ID {
		t.Errorf("a d.c. reading before: %s at %v", pack.Outcome, *pack.ResistanceOhm)
	}
	f.Add(p.makes(journal.Voided, packA, voids(dc)))
	if row := mustPack(t, f, packA, p.nowMS).Row; row.Outcome != judge.Retest || *row.ResistanceOhm != 0.05 {
		t.Errorf("the d.c. reading voided: %s at %v", row.Outcome, *row.ResistanceOhm)
	}
}
