package main

import (
	"encoding/binary"
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

// write has a phone make an entry, as the app does: stamped after all it holds,
// saved, then sent.
func (p *phone) write() {
	w := p.w
	entry := journal.Entry{ID: w.newID(p.wallMS()), V: journal.Version, Device: p.disk.device, By: p.name[:1]}
	entry.Kind, entry.Pack, entry.Body = w.something(p)
	after := p.disk.newest
	entry.HLC = p.clock.Tick(p.wallMS()).String()
	raw := json.RawMessage(mustJSON(entry))
	m := madeEntry{phone: p.name, id: entry.ID, hlc: entry.HLC, after: after}
	if w.chance(w.storm.poison) {
		raw, m.bad = w.poison(entry)
		w.seen["poison: "+m.bad]++
	}
	m.text = canonical(raw)
	w.log.made = append(w.log.made, m)
	p.disk.hold(entry.ID, raw)
	p.disk.outbox[entry.ID] = ""
	p.sync()
}

func (w *world) newID(ms int64) string {
	var random [10]byte
	binary.BigEndian.PutUint64(random[:], w.rand.Uint64())
	return journal.NewID(ms, random)
}

// something is a valid entry of a random kind about one of a few packs, so that
// phones often write about the same one.
func (w *world) something(p *phone) (journal.Kind, string, json.RawMessage) {
	pack := simPack(byte(w.rand.IntN(4)))
	number := func(values ...float64) *float64 { return &values[w.rand.IntN(len(values))] }
	text := strings.Repeat("word ", 1+w.rand.IntN(200))
	switch w.rand.IntN(8) {
	case 0:
		name := "Pack " + pack[:1]
		return journal.PackAdded, pack, mustJSON(journal.Profile{Name: &name, CapacityAh: number(3, 3.3)})
	case 1:
		return journal.ProfileChanged, pack, mustJSON(journal.Profile{FuseA: number(15, 20, 30)})
	case 2, 3:
		return journal.LoadTest, pack, mustJSON(loadtest.Test{
			Method: loadtest.KnownLoad, OpenV: []float64{12.84, *number(12.83, 12.85)}, LoadedV: []float64{12.71, *number(12.7, 12.6)},
			LoadOhm: 10, Meter: loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01}})
	case 4:
		return journal.Inspected, pack, mustJSON(journal.Inspection{Finding: journal.LooseContact, Text: text})
	case 5:
		return journal.TeamChanged, "", mustJSON(journal.Team{CompetitionOhm: number(0.1, 0.11, 0.12)})
	case 6:
		if held := slices.Sorted(maps.Keys(p.disk.entries)); len(held) > 0 {
			if id := held[w.rand.IntN(len(held))]; idOf(p.disk.entries[id]) != "" {
				return journal.Voided, "", mustJSON(journal.Void{Entry: id, Reason: "mistaken"})
			}
		}
		fallthrough
	default:
		return journal.Noted, pack, mustJSON(journal.Note{Text: text})
	}
}

func simPack(number byte) string {
	random := make([]byte, 64)
	for i := range random {
		random[i] = number*31 + byte(i)
	}
	code, err := journal.NewCode(random)
	if err != nil {
		panic(err) // the same bytes give the same code each time
	}
	return code
}

// poison is what a bug, a crash or a forger could put into an outbox.
func (w *world) poison(entry journal.Entry) (raw json.RawMessage, what string) {
	text := func(quoted string) json.RawMessage {
		entry.Kind, entry.Body = journal.Noted, json.RawMessage(`{"text":"@"}`)
		return json.RawMessage(strings.Replace(string(mustJSON(entry)), `"@"`, quoted, 1))
	}
	switch w.rand.IntN(8) {
	case 0:
		return text(`5`), "number for text"
	case 1:
		return text(`"` + strings.Repeat("x", 1<<20) + `"`), "1 MiB of text"
	case 2:
		return text(`"a\u0000b"`), "U+0000"
	case 3:
		return text(`"a\ud800b"`), "lone surrogate"
	case 4:
		return text("\"a\xffb\""), "invalid UTF-8"
	case 5:
		return text(`NaN`), "NaN: not JSON at all"
	case 6:
		return json.RawMessage(`{"id":"` + entry.ID + `"`), "cut off: not JSON at all"
	}
	entry.V = 0
	return mustJSON(entry), "version 0"
}

// forge pushes other content under an id that the server holds, as a bug or a
// forger would: the stored entry must stay as it is.
func (w *world) forge() {
	if !w.server.up {
		return
	}
	p := w.phones[w.rand.IntN(len(w.phones))]
	for _, id := range p.disk.arrival {
		var entry journal.Entry
		if json.Unmarshal(p.disk.entries[id], &entry) != nil || entry.Kind != journal.Noted || !json.Valid(entry.Body) {
			continue
		}
		if wanted, err := w.server.backend.Wanted([]string{id}); err != nil || len(wanted) > 0 {
			continue
		}
		entry.Body = mustJSON(journal.Note{Text: "rewritten"})
		if w.server.handle(request{"POST", "/api/v1/entries", push(entry)}).status == http.StatusOK {
			w.seen["id used again"]++
			return
		}
	}
}

// wrongClocks are what phones' clocks are off by.
func wrongClocks(nowMS int64) []int64 {
	return []int64{0, 0, 1500, -1500, -3 * time.Hour.Milliseconds(), -nowMS, 4076000000000 - nowMS} // the last two: 1970, 2099
}
