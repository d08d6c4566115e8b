package main

import (
	"context"
	"encoding/json"
	"fmt"

	"packwright/internal/access"
	"packwright/internal/journal"
	"packwright/internal/problem"
	"packwright/internal/store"
	"packwright/internal/strictjson"
)

// mostTurns is how deep voids of voids may go in one push. Those of a person go
// two deep: a void, and another that takes it back.
const mostTurns = 8

// brought is what a device brought, and what becomes of each entry.
type brought struct {
	from    access.Device
	raws    []json.RawMessage
	results []store.Result
}

// void is a crew's void that is new here.
type void struct {
	place int // in the push
	entry journal.Entry
}

// appendFrom stores entries under the device that brought them, which may be
// another than made them. What only a lead may do is refused where the device's
// role may not, and the invented season where there are real entries; everything else is stored, one result for each.
//
// The crew's voids are stored after what they void. One that was there before
// would be in force on whatever comes under that id, here or on another server.
func (s *server) appendFrom(ctx context.Context, from access.Device, raws []json.RawMessage) ([]store.Result, error) {
	p := brought{from, raws, make([]store.Result, len(raws))}
	places, voids, err := s.sortOut(p)
	if err != nil {
		return nil, err
	}
	if err := s.storePart(ctx, p, places); err != nil {
		return nil, err
	}
	for turn := 0; len(voids) > 0 && turn < mostTurns; turn++ {
		if places, voids, err = s.follow(p, voids); err != nil {
			return nil, err
		}
		if len(places) == 0 {
			break
		}
		if err := s.storePart(ctx, p, places); err != nil {
			return nil, err
		}
	}
	return p.results, nil
}

// sortOut gives the places of what can be stored at once, and the crew's new voids.
// The others are refused, and so are those voids until they are stored.
func (s *server) sortOut(p brought) (places []int, voids []void, err error) {
	unwanted, err := s.unwantedDemo(p.raws)
	if err != nil {
		return nil, nil, err
	}
	crew := !p.from.Role.May(access.Lead)
	for i, raw := range p.raws {
		if id := unwanted[i]; id != "" {
			p.results[i] = store.Result{ID: id, Status: store.Refused,
				Reason: "this entry is of the invented season, and the journal here is a real one",
				Hint:   "look at the season on a server of its own, at another address"}
			continue
		}
		entry, err := journal.ParseEntry(raw) // the store's own reading: no second one can differ from it
		delicate := crew && err == nil && (forLeads(entry.Kind) != "" || entry.Kind == journal.Voided && entry.Check() == nil)
		if delicate {
			wanted, err := s.store.Wanted([]string{entry.ID})
			if err != nil {
				return nil, nil, err
			}
			delicate = len(wanted) > 0 // stored before: sending it again changes nothing
		}
		switch {
		case !delicate:
			places = append(places, i)
		case entry.Kind == journal.Voided:
			voids = append(voids, void{i, entry})
			p.results[i] = store.Result{ID: entry.ID, Status: store.Refused,
				Reason: "the server does not hold what this voids",
				Hint:   "it stays on the device: send it again once the server has that entry"}
		default:
			p.results[i] = leadsOnly(entry.ID, entry.Kind)
		}
	}
	return places, voids, nil
}

// forLeads says why entries of a kind, and voids of them, are for leads; empty where
// they are not.
func forLeads(kind journal.Kind) (reason string) {
	switch kind {
	case journal.TeamChanged:
		return "only a lead may change the team's settings"
	case journal.Imported:
		return "only a lead may import a table of tests, or undo that"
	}
	return ""
}

func leadsOnly(id string, about journal.Kind) store.Result {
	return store.Result{ID: id, Status: store.Refused, Reason: forLeads(about), Hint: "ask a lead to do it, or to make this device a lead"}
}

// storePart stores the entries at some places of a push.
func (s *server) storePart(ctx context.Context, p brought, places []int) error {
	part := make([]json.RawMessage, len(places))
	for n, place := range places {
		part[n] = p.raws[place]
	}
	stored, err := s.store.Append(ctx, part, p.from.ID)
	if err != nil {
		return err
	}
	if len(stored) != len(part) {
		return fmt.Errorf("the store gave %d results for %d entries", len(stored), len(part))
	}
	for n, r := range stored {
		p.results[places[n]] = r
	}
	return nil
}

// follow gives the places of the voids that are now known to be about what the crew
// may void, and those that are about what is not here.
func (s *server) follow(p brought, voids []void) (places []int, left []void, err error) {
	for _, v := range voids {
		switch end, err := s.subject(v.entry); {
		case err != nil:
			return nil, nil, err
		case end == nil:
			left = append(left, v)
		case forLeads(end.Kind) != "":
			p.results[v.place] = leadsOnly(v.entry.ID, end.Kind)
		default:
			places = append(places, v.place)
		}
	}
	return places, left, nil
}

// subject is the stored entry that a void is about in the end: of a void of a
// void, what that one is about. It is nil where that is not here, or cannot be told
// since a newer program made the void.
func (s *server) subject(entry journal.Entry) (*journal.Entry, error) {
	seen := map[string]bool{} // voids that go round in circles void nothing
	for entry.Kind == journal.Voided && !seen[entry.ID] {
		seen[entry.ID] = true
		item, err := s.store.Get(voided(entry))
		if p, ok := problem.As(err); ok && p.Kind == problem.NotFound {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		if entry, err = journal.ParseEntry(item.Entry); err != nil {
			return nil, fmt.Errorf("stored entry %d: %w", item.Seq, err)
		}
	}
	return &entry, nil
}

// voided is the id of the entry that a void is about, also in a newer version whose
// other members are not known here; empty where there is none.
func voided(entry journal.Entry) (id string) {
	err := strictjson.Object(entry.Body, func(name, value []byte) error {
		if string(name) == "entry" {
			id, _ = strictjson.Text(value)
		}
		return nil
	})
	if err != nil {
		return ""
	}
	return id
}
