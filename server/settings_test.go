package main

import (
	"fmt"
	"strings"
	"testing"

	"packwright/internal/access"
	"packwright/internal/exchange"
	"packwright/internal/journal"
	"packwright/internal/store"
)

// entry is note with another kind and body.
func entry(number int, kind journal.Kind, body string) journal.Entry {
	e := note(number, "")
	e.Kind, e.Body = kind, []byte(body)
	return e
}

func voids(number int, of journal.Entry) journal.Entry {
	return entry(number, journal.Voided, fmt.Sprintf(`{"entry":%q}`, of.ID))
}

// bring pushes entries as the device with a token.
func bring(t *testing.T, s *server, token string, entries ...journal.Entry) []pushResult {
	t.Helper()
	w := ask{door: doorField, method: "POST", path: "/api/v1/entries", body: string(push(entries...)), token: token}.to(t, s)
	results := answerOf[pushAnswer](t, w, 200).Results
	for i, r := range results {
		if r.Index != i || r.ID != entries[i].ID {
			t.Errorf("result %d is %+v, for %s", i, r, entries[i].ID)
		}
	}
	return results
}

// The crew's entries are stored but for those that would change the team's
// settings: each is refused by itself, whatever stands beside it.
func TestSettingsAreForLeads(t *testing.T) {
	s, _ := testField(t)
	_, crew := joined(t, s, access.Crew)
	_, lead := joined(t, s, access.Lead)
	bring := func(token string, entries ...journal.Entry) []pushResult {
		t.Helper()
		return bring(t, s, token, entries...)
	}
	var (
		settings = entry(1, journal.TeamChanged, `{"name":"Pit crew"}`)
		newer    = settings
		mine     = note(3, "mine")
		undo     = voids(4, settings)
		undoUndo = voids(5, undo)
		undoMine = voids(6, mine)
		redoMine = voids(7, undoMine)
	)
	newer.ID, newer.V, newer.Body = note(2, "").ID, 2, []byte(`{"brightness":3}`)

	check := func(who string, got []pushResult, want ...store.Status) {
		t.Helper()
		for i, r := range got {
			if r.Status != want[i] {
				t.Errorf("%s: result %d is %+v, want %s", who, i, r, want[i])
			}
			if r.Status == store.Refused && (r.Reason != "only a lead may change the team's settings" || r.Hint == "") {
				t.Errorf("%s: refused for %q, hint %q", who, r.Reason, r.Hint)
			}
		}
	}
	check("crew", bring(crew, mine, settings, undoMine, newer, redoMine),
		store.Accepted, store.Refused, store.Accepted, store.Refused, store.Accepted)
	check("lead", bring(lead, settings, newer, undo), store.Accepted, store.Accepted, store.Accepted)
	check("crew after the lead", bring(crew, settings, undo, undoUndo, voids(10, newer), mine),
		store.Duplicate, store.Duplicate, store.Refused, store.Refused, store.Duplicate)

	changed := settings
	changed.Body = []byte(`{"name":"Another"}`)
	check("crew under the lead's id", bring(crew, changed), store.Conflict)
	check("lead", bring(lead, undoUndo), store.Accepted)

	// No second spelling of the kind slips through.
	for _, raw := range []string{
		strings.Replace(string(mustJSON(entry(20, journal.TeamChanged, `{}`))), `"team-changed"`, `"team\u002dchanged"`, 1),
		strings.Replace(string(mustJSON(entry(21, journal.TeamChanged, `{}`))), `"kind"`, `"\u006bind"`, 1),
		strings.Replace(string(mustJSON(entry(22, journal.TeamChanged, `{}`))), `"v":1`, `"kind":"note","v":1`, 1),
		strings.Replace(string(mustJSON(voids(23, newer))), `{"entry":`, `{"Entry":"x","entry":`, 1),
		strings.Replace(string(mustJSON(voids(24, newer))), `{"entry":`, `{"entry":"`+mine.ID+`","entry":`, 1),
	} {
		w := ask{door: doorField, method: "POST", path: "/api/v1/entries", body: `{"entries":[` + raw + `]}`, token: crew}.to(t, s)
		if got := answerOf[pushAnswer](t, w, 200).Results; got[0].Status != store.Refused {
			t.Errorf("%s: %+v", raw, got)
		}
	}
	if w := send(s, "POST", "/api/v1/entries", strings.NewReader(string(push(entry(30, journal.TeamChanged, `{"name":"Here"}`))))); !strings.Contains(w.Body.String(), `"accepted"`) {
		t.Errorf("here: %s", w.Body)
	}
}

// An import, and what undoes one, are for leads; the tests that came with it are
// like any other.
func TestImportsAreForLeads(t *testing.T) {
	s, _ := testField(t)
	_, crew := joined(t, s, access.Crew)
	_, lead := joined(t, s, access.Lead)
	table := entry(1, journal.Imported, `{"file":"old.csv","rows":1}`)
	test := entry(2, journal.DirectReading, `{"method":"direct-dc","resistance_ohm":[0.08],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"import":"`+table.ID+`"}`)
	test.Pack = "7K3QXX"
	undo, undoTest := voids(3, table), voids(4, test)
	for _, step := range []struct {
		who   string
		token string
		entry journal.Entry
		want  store.Status
	}{
		{"crew", crew, table, store.Refused}, {"lead", lead, table, store.Accepted}, {"crew", crew, table, store.Duplicate},
		{"crew", crew, test, store.Accepted}, {"crew", crew, undoTest, store.Accepted},
		{"crew", crew, undo, store.Refused}, {"lead", lead, undo, store.Accepted}, {"crew", crew, voids(5, undo), store.Refused},
	} {
		r := bring(t, s, step.token, step.entry)[0]
		if r.Status != step.want {
			t.Errorf("%s brings %s: %+v, want %s", step.who, step.entry.Kind, r, step.want)
		}
		if r.Status == store.Refused && (r.Reason != "only a lead may import a table of tests, or undo that" || r.Hint == "") {
			t.Errorf("refused for %q, hint %q", r.Reason, r.Hint)
		}
	}
}

// What a void is about must be here before it, or come with it: a void that waits
// for its entry would be in force on settings that come later.
func TestVoidsOfWhatIsNotHere(t *testing.T) {
	s, _ := testField(t)
	_, crew := joined(t, s, access.Crew)
	_, lead := joined(t, s, access.Lead)
	unlike := func(e journal.Entry, body string) journal.Entry { // another entry under its id
		e.Kind, e.Body = journal.Noted, []byte(body)
		return e
	}
	newer := func(number int, body string) journal.Entry {
		e := entry(number, journal.Voided, body)
		e.V = journal.Version + 1
		return e
	}
	var (
		settings  = entry(1, journal.TeamChanged, `{"competition_ohm":0.02}`)
		undo      = voids(2, settings)
		undoUndo  = voids(3, undo)
		mine      = note(4, "mine")
		undoMine  = voids(5, mine)
		redoMine  = voids(6, undoMine)
		elsewhere = note(7, "on another phone")
		undoElse  = voids(8, elsewhere)
		kept      = note(9, "kept")
	)
	steps := []struct {
		who   string
		what  []journal.Entry
		token string
		want  []store.Status // refused: it is not here
	}{
		{"a void before its entry", []journal.Entry{undo, kept}, crew, []store.Status{store.Refused, store.Accepted}},
		{"a void of a void before its entry", []journal.Entry{undoUndo, undo}, crew, []store.Status{store.Refused, store.Refused}},
		{"a void with a decoy that cannot be stored", []journal.Entry{undo, unlike(settings, `{}`)}, crew, []store.Status{store.Refused, store.Refused}},
		{"voids before what they void, in one push", []journal.Entry{redoMine, undoMine, mine}, crew, []store.Status{store.Accepted, store.Accepted, store.Accepted}},
		{"of a newer version", []journal.Entry{newer(10, `{"entry":"`+settings.ID+`","more":1}`), newer(11, `{"all":true}`), newer(12, `{"entry":"`+mine.ID+`","more":1}`)},
			crew, []store.Status{store.Refused, store.Refused, store.Accepted}},
		{"of another phone's entry", []journal.Entry{undoElse}, crew, []store.Status{store.Refused}},
		{"after the other phone has synced", []journal.Entry{elsewhere}, lead, []store.Status{store.Accepted}},
		{"once more", []journal.Entry{undoElse}, crew, []store.Status{store.Accepted}},
		{"a lead's, before its entry", []journal.Entry{voids(13, note(14, "x"))}, lead, []store.Status{store.Accepted}},
		{"what voids that", []journal.Entry{voids(15, voids(13, note(14, "x")))}, crew, []store.Status{store.Refused}},
		{"the settings", []journal.Entry{settings}, lead, []store.Status{store.Accepted}},
	}
	for _, step := range steps {
		for i, r := range bring(t, s, step.token, step.what...) {
			if r.Status != step.want[i] {
				t.Errorf("%s: result %d is %+v, want %s", step.who, i, r, step.want[i])
			}
			if void := step.what[i].Kind == journal.Voided; void && r.Status == store.Refused &&
				(r.Reason != "the server does not hold what this voids" || !strings.Contains(r.Hint, "send it again")) {
				t.Errorf("%s: refused for %q, hint %q", step.who, r.Reason, r.Hint)
			}
		}
	}
	state, err := fold(s.store.All())
	if err != nil {
		t.Fatal(err)
	}
	if got := state.Team().Limits.CompetitionOhm; got != 0.02 {
		t.Errorf("the limit is %v Ω: the crew changed the settings", got)
	}
	if r := bring(t, s, crew, undo); r[0].Status != store.Refused || r[0].Reason != "only a lead may change the team's settings" {
		t.Errorf("afterwards: %+v", r)
	}
}

// Nor can the crew of one server void, there, the settings of another one that it
// is about to hear of.
func TestVoidsBeforeAnExchange(t *testing.T) {
	up, down := newNode(t), newNode(t)
	settings := entry(1, journal.TeamChanged, `{"competition_ohm":0.02}`)
	up.send(t, push(settings))
	down.origin, down.hosts = fieldOrigin, func(name string) bool { return name == "pit.local" }
	_, crew := joined(t, down.server, access.Crew)
	mine, undo := note(2, "mine"), voids(3, settings)
	bring(t, down.server, crew, mine, undo, voids(4, mine), voids(5, undo))
	x := down.newExchange(t, exchange.Link{URL: up.url}, exchange.Options{})
	for range 2 { // the crew tries again when the settings are there
		if err := x.Round(t.Context()); err != nil {
			t.Fatal(err)
		}
		bring(t, down.server, crew, undo, voids(5, undo))
	}
	awaitSame(t, []*node{up, down}, 3)
	for _, n := range []*node{up, down} {
		state, err := fold(n.store.All())
		if err != nil {
			t.Fatal(err)
		}
		if got := state.Team().Limits.CompetitionOhm; got != 0.02 {
			t.Errorf("the limit is %v Ω: the crew changed the settings", got)
		}
	}
}
