package sheet_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"packwright/internal/demo"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/season"
	"packwright/internal/sheet"
)

// The table of a whole season is read back to the bodies that the journal has,
// and into the same fleet it brings nothing new.
func TestSeasonComesBack(t *testing.T) {
	f := fleet.New()
	bodies := map[string]int{} // how often each is in the journal
	for _, e := range demo.Season() {
		f.Add(e)
	}
	voided := map[string]bool{}
	for _, code := range f.SortedCodes() {
		pack, err := f.Pack(code, nowMS)
		if err != nil {
			t.Fatal(err)
		}
		for _, test := range pack.Tests {
			voided[test.Entry] = test.Voided
		}
	}
	want := 0
	for _, e := range demo.Season() {
		if (e.Kind == journal.LoadTest || e.Kind == journal.DirectReading) && !voided[e.ID] {
			bodies[e.Pack+comparable(t, e.Body)]++
			want++
		}
	}
	s := season.New(f)
	_, text, err := s.Table(season.TestsTable, nowMS)
	if err != nil {
		t.Fatal(err)
	}
	known := s.Known(nowMS)
	again, err := sheet.Look(text, known, nowMS, nil, nil)
	if err != nil || again.Again != want || want == 0 {
		t.Errorf("of %d tests %d are known, %d good, %d bad, %q: %v", want, again.Again, again.Good, again.Bad, again.Doubts, err)
	}
	for i := range known {
		known[i].Tests = nil
	}
	fresh, err := sheet.Look(text, known, nowMS, nil, nil)
	if err != nil || fresh.Good != want {
		t.Errorf("of %d tests %d are good, %d bad, %d again: %v", want, fresh.Good, fresh.Bad, fresh.Again, err)
	}
	for _, row := range fresh.Rows {
		key := row.Pack + comparable(t, row.Body)
		if bodies[key]--; bodies[key] < 0 {
			t.Errorf("line %d is in no entry: %s %s", row.Line, row.Body, row.Problem)
		}
	}
}

const nowMS = 1_795_608_000_000 // 2026-11-25

// comparable writes a body without the time, which an entry may have of its own.
func comparable(t *testing.T, body json.RawMessage) string {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal(body, &m); err != nil {
		t.Fatal(err)
	}
	delete(m, "taken_at")
	for name, value := range m { // absent is 0
		if reflect.ValueOf(value).IsZero() {
			delete(m, name)
		}
	}
	text, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
