package fleet

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/logged"
)

func TestEventsOfAPack(t *testing.T) {
	p := newPhone(t, "one")
	entries := []journal.Entry{
		p.makes(journal.PackAdded, packA, `{"name":"Heron 1","cells":10,"capacity_ah":3}`),
		p.makes(journal.Repaired, packA, `{"part":"lead","text":"new crimp"}`),
		p.makes(journal.Repaired, packA, `{"part":"other","text":"sleeve","day":"2026-08-20"}`),
		p.makes(journal.Repaired, packA, `{"part":"fuse","text":"holder","day":"2027-01-01"}`), // later than its entry
		p.makes(journal.Charged, packA, `{"started_at":"2026-09-01T10:00:00+02:00","ended_at":"2026-09-01T12:00:00+02:00","purpose":"use","put_in_ah":3.3,"ended":"full"}`),
		p.makes(journal.Charged, packA, `{"started_at":"2026-08-30T10:00:00Z","purpose":"top-up","ended":"timer"}`),
		p.makes(journal.RunLogged, packA, `{"purpose":"capacity","started_at":"2026-08-31T10:00:00Z","options":{"cells":0,"load_ohm":12,"load_tolerance_pct":1,"from_full":true},"rows":[{"time_s":0,"volts":12},{"time_s":3600,"volts":12},{"time_s":7200,"volts":12},{"time_s":8100,"volts":12},{"time_s":8101,"volts":9},{"time_s":8200,"volts":9}]}`),
		p.makes(journal.RunLogged, packA, `{"purpose":"drive","options":{"cells":10},"rows":[{"time_s":5,"volts":12}]}`),
		p.makes(journal.Wiggled, packA, `{"load_ohm":2.5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"spots":[{"place":"still","low_v":12,"high_v":12},{"place":"fuse","low_v":11,"high_v":12}]}`),
	}
	entries = append(entries, p.makes(journal.Voided, packA, voids(entries[8])))
	pack := mustPack(t, folded(entries...), packA, p.nowMS)

	var repairs []string
	for _, r := range pack.Repairs {
		repairs = append(repairs, fmt.Sprint(r.Part, " ", (r.AtMS-day0)/60_000, " ", r.Baseline))
	}
	noon := int64(1_787_227_200_000) // 2026-08-20 12:00 UTC, by date -u
	if want := []string{"fuse 4 true", "lead 2 true", fmt.Sprint("other ", (noon-day0)/60_000, " false")}; !slices.Equal(repairs, want) {
		t.Errorf("repairs %q, want %q", repairs, want)
	}
	if c := pack.Charges; len(c) != 2 || c[0].StartedMS != day0 || *c[0].EndedMS != day0+2*3_600_000 || *c[0].PutInAh != 3.3 || c[1].EndedMS != nil {
		t.Errorf("charges %+v", c)
	}
	// 1 A for 2.25 h and a little: three quarters of the rating of 3 Ah.
	if r := pack.Runs; len(r) != 2 || r[1].Result == nil || r[1].Result.Capacity == nil || r[1].Result.Capacity.SharePct == nil ||
		r[1].Result.Capacity.Verdict != logged.Worn || !(r[1].Result.Capacity.SharePct.Value > 75 && r[1].Result.Capacity.SharePct.Value < 75.1) {
		t.Errorf("runs %+v", r)
	}
	if r := pack.Runs[0]; r.Result != nil || r.Problem == "" || r.StartedMS != r.AtMS {
		t.Errorf("a run of one reading: %+v", r)
	}
	if w := pack.Wiggles; len(w) != 1 || !w[0].Voided || w[0].Spots[1].Place != journal.AtFuse {
		t.Errorf("wiggles %+v", w)
	}

	// A verdict follows the team's settings.
	entries = append(entries, p.makes(journal.TeamChanged, "", `{"capacity_good_pct":70}`))
	pack = mustPack(t, folded(entries...), packA, p.nowMS)
	if v := pack.Runs[1].Result.Capacity.Verdict; v != logged.Good {
		t.Errorf("verdict %s with a good share of 70 %%", v)
	}
}

// Voiding an import voids its tests, also those that come later, and no other;
// undoing that brings back all but what was voided by itself.
func TestImportUndone(t *testing.T) {
	p := newPhone(t, "one")
	table := p.makes(journal.Imported, "", `{"file":"old.csv","rows":3}`)
	with := func(ohm float64) string {
		body := reading(ohm)
		return body[:len(body)-1] + fmt.Sprintf(`,"import":%q,"taken_at":"2026-08-01T12:00:00Z"}`, table.ID)
	}
	entries := []journal.Entry{
		p.makes(journal.PackAdded, packA, `{"name":"Heron 1","cells":10}`), table,
		p.makes(journal.DirectReading, packA, with(0.08)), p.makes(journal.DirectReading, packA, with(0.081)),
		p.makes(journal.DirectReading, packB, with(0.2)), p.makes(journal.DirectReading, packA, reading(0.15)),
	}
	alone := p.makes(journal.Voided, packA, voids(entries[3]))
	entries = append(entries, alone)
	counts := func(entries ...journal.Entry) (tests int, voided []bool, has bool) {
		f := folded(entries...)
		for _, test := range mustPack(t, f, packA, p.nowMS).Tests {
			voided = append(voided, test.Voided)
		}
		return f.Overview(p.nowMS).Imports[0].Tests, voided, f.Has(packB)
	}
	if n, voided, has := counts(entries...); n != 2 || fmt.Sprint(voided) != "[false true false]" || !has {
		t.Errorf("before: %d, %v, %t", n, voided, has)
	}
	undo := p.makes(journal.Voided, "", voids(table))
	late := p.makes(journal.DirectReading, packA, with(0.082)) // from another phone, which has not heard of it
	entries = append(entries, undo, late)
	if n, voided, has := counts(entries...); n != 0 || fmt.Sprint(voided) != "[false true true true]" || has {
		t.Errorf("voided: %d, %v, %t", n, voided, has)
	}
	f := folded(entries...)
	pack := mustPack(t, f, packA, p.nowMS)
	if o := f.Overview(p.nowMS); !o.Imports[0].Voided || pack.Tests[2].VoidedBy != alone.ID || pack.Tests[3].VoidedBy != undo.ID || pack.Outcome != judge.Retest && pack.Outcome != judge.Practice {
		t.Errorf("%+v\n%+v", o.Imports, pack)
	}
	var undoneWith []string // the import that each test was voided with, newest first
	for _, test := range pack.Tests {
		undoneWith = append(undoneWith, test.VoidedWith)
	}
	if one, err := f.Test(entries[2].ID, p.nowMS); err != nil || one.VoidedWith != table.ID || one.VoidedBy != undo.ID {
		t.Errorf("one test: %+v, %v", one.Stamp, err)
	}
	if want := []string{"", table.ID, "", table.ID}; !slices.Equal(undoneWith, want) {
		t.Errorf("voided with %q, want %q", undoneWith, want)
	}
	if with := f.Overview(p.nowMS).Imports[0].VoidedWith; with != "" {
		t.Errorf("the import itself is voided with %q", with)
	}
	before := folded(entries[:len(entries)-2]...) // without undo and late
	was := before.Revision(packA, p.nowMS)
	before.Add(undo)
	if before.Revision(packA, p.nowMS) == was {
		t.Error("voiding an import leaves the revision of its packs")
	}
	entries = append(entries, p.makes(journal.Voided, "", voids(undo)))
	if n, voided, has := counts(entries...); n != 3 || fmt.Sprint(voided) != "[false false true false]" || !has {
		t.Errorf("brought back: %d, %v, %t", n, voided, has)
	}
}

func TestSeasonSettings(t *testing.T) {
	p := newPhone(t, "one")
	f := folded(
		p.makes(journal.PackAdded, packA, `{"retired":true,"retired_why":"lost a cell"}`),
		p.makes(journal.TeamChanged, "", `{"event_name":"Spring","event_date":"2027-03-06","wanted_packs":6,"wanted_pct":95,"pack_price":40,"currency":"coins","delivery_days":10,"to_20c":true,"capacity_end_pct":75,"charge_factor":1.1,"self_discharge_pct_month":20,"top_up_days":60,"condition_days":120,"reference_pack":"`+packA+`"}`),
		p.makes(journal.TeamChanged, "", `{"capacity_good_pct":70}`),
	)
	want := Defaults()
	want.EventName, want.EventDate, want.WantedPacks, want.WantedPct, want.PackPrice, want.Currency = "Spring", "2027-03-06", 6, 95, 40, "coins"
	want.DeliveryDays, want.To20C, want.CapacityGoodPct, want.ChargeFactor, want.SelfDischargePctMonth = 10, true, 70, 1.1, 20
	want.TopUpDays, want.ConditionDays, want.ReferencePack = 60, 120, packA
	want.CapacityEndPct = 70 // 75 does not fit a good share of 70
	if diff := cmp.Diff(want, f.Team()); diff != "" {
		t.Error(diff)
	}
	o := f.Overview(p.nowMS)
	if o.Packs[0].RetiredWhy != "lost a cell" || len(o.TeamHistory) != 15 || o.TeamHistory[0].Field != "capacity_good_pct" || o.TeamHistory[0].Value != "70" {
		t.Errorf("%+v", o.TeamHistory)
	}
}
