package main

import (
	"encoding/json"
	"maps"
	"slices"
	"sync"

	"packwright/internal/demo"
	"packwright/internal/journal"
)

// invented are the ids of the invented season: the same in every program.
var invented = sync.OnceValue(func() map[string]bool {
	ids := map[string]bool{}
	for _, entry := range demo.Season() {
		ids[entry.ID] = true
	}
	return ids
})

// unwantedDemo gives the ids, by their place, of entries of the invented season
// that a journal with other entries and none of that season must not get: a
// browser keeps the season and would give it to whichever server answers at its
// address, and no entry can be taken out again.
func (s *server) unwantedDemo(raws []json.RawMessage) (map[int]string, error) {
	found := map[int]string{}
	for i, raw := range raws {
		if entry, err := journal.ParseEntry(raw); err == nil && invented()[entry.ID] {
			found[i] = entry.ID
		}
	}
	if _, head := s.store.Head(); len(found) == 0 || head == 0 {
		return nil, nil
	}
	missing, err := s.store.Wanted(slices.Collect(maps.Keys(invented())))
	if err != nil || len(missing) < len(invented()) {
		return nil, err // this is a demo journal
	}
	return found, nil
}
