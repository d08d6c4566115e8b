package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"packwright/internal/fleet"
	"packwright/internal/journal"
)

// opLog is what phones made and were told, as they saw it; the checker believes
// nothing else of the past.
type opLog struct {
	made     []madeEntry
	acks     []ackSeen
	items    []itemSeen
	wiped    map[string]bool // ids that were only on a phone whose data was cleared
	restores int
	faults   []string // what must never be seen
}

type madeEntry struct {
	phone string
	id    string
	text  string // canonical; or what stands in for it where it is not JSON
	bad   string // why it must be refused; empty: it must be accepted
	after string // the greatest stamp its phone had seen
	hlc   string
}

type ackSeen struct {
	phone, id, epoch string
	seq              uint64
	restores         int // how many restores there had been
}

type itemSeen struct {
	epoch string
	seq   uint64
	id    string
	text  string
}

func (l *opLog) fault(format string, args ...any) {
	l.faults = append(l.faults, fmt.Sprintf(format, args...))
}

func (l *opLog) ack(p *phone, id string, seq uint64, epoch string) {
	l.acks = append(l.acks, ackSeen{p.name, id, epoch, seq, l.restores})
}

// pulled notes a page, and checks at once that it joins on to the cursor without
// a gap: a server numbers from 1 and leaves none out.
func (l *opLog) pulled(p *phone, after uint64, page pullAnswer) {
	expect := after
	for _, item := range page.Entries {
		if expect++; item.Seq != expect {
			l.fault("I4: %s pulled after %d: sequence number %d where %d comes next", p.name, after, item.Seq, expect)
		}
		l.items = append(l.items, itemSeen{page.Epoch, item.Seq, idOf(item.Entry), canonical(item.Entry)})
	}
	if page.Next != expect {
		l.fault("I4: %s pulled after %d: the next cursor is %d, the page ends at %d", p.name, after, page.Next, expect)
	}
}

// check compares, after everything has healed and every phone has synced, what
// phones were told with what there is. It gives the invariants that do not hold:
//
//	I1  every acknowledged entry is there exactly once, everywhere
//	I2  every phone and the server hold the same, and fold it to the same state
//	I3  an entry that was not acknowledged is in its phone's outbox or on the server, whole
//	I4  sequence numbers rise without gaps, and no id and no number has two bodies
//	I5  no outbox keeps an entry for ever (w.settled looks for it in time)
//	I6  what a phone writes sorts after all it had seen
func (w *world) check(final []pulledEntry) []string {
	found := slices.Clone(w.log.faults)
	fault := func(format string, args ...any) { found = append(found, fmt.Sprintf(format, args...)) }
	there := map[string]string{}
	for i, item := range final {
		id := idOf(item.Entry)
		if item.Seq != uint64(i+1) {
			fault("I4: entry %d of the server has sequence number %d", i+1, item.Seq)
		}
		if _, twice := there[id]; twice {
			fault("I1: %s is on the server twice", id)
		}
		there[id] = canonical(item.Entry)
	}
	w.checkBodies(there, fault)
	w.checkNumbers(fault)
	w.checkAcknowledged(there, fault)
	w.checkMade(there, fault)
	w.checkReplicas(there, final, fault)
	return found
}

type faultFunc func(format string, args ...any)

// checkBodies: no id ever had two bodies, in whatever was made, pulled or kept.
func (w *world) checkBodies(there map[string]string, fault faultFunc) {
	bodies := map[string]string{}
	for _, item := range w.log.items {
		if known, ok := bodies[item.id]; ok && known != item.text {
			fault("I4: %s was pulled with two bodies", item.id)
		}
		bodies[item.id] = item.text
	}
	for id, text := range there {
		if known, ok := bodies[id]; ok && known != text {
			fault("I4: the server holds %s with another body than was pulled", id)
		}
		whole := slices.ContainsFunc(w.log.made, func(m madeEntry) bool { return m.id == id && m.text == text })
		if !whole {
			fault("I3: the server holds %s as nobody made it", id)
		}
	}
}

// checkNumbers: within one epoch a number means one entry and an entry one number.
func (w *world) checkNumbers(fault faultFunc) {
	type place struct {
		epoch string
		seq   uint64
	}
	type identity struct{ epoch, id string }
	ids, seqs := map[place]string{}, map[identity]uint64{}
	note := func(epoch string, seq uint64, id string) {
		if epoch == "" || seq == 0 {
			return
		}
		if known, ok := ids[place{epoch, seq}]; ok && known != id {
			fault("I4: number %d of epoch %.8s is both %s and %s", seq, epoch, known, id)
		}
		if known, ok := seqs[identity{epoch, id}]; ok && known != seq {
			fault("I1: %s has the numbers %d and %d in epoch %.8s", id, known, seq, epoch)
		}
		ids[place{epoch, seq}], seqs[identity{epoch, id}] = id, seq
	}
	for _, item := range w.log.items {
		note(item.epoch, item.seq, item.id)
	}
	for _, a := range w.log.acks {
		note(a.epoch, a.seq, a.id)
	}
}

// checkAcknowledged: what was acknowledged, or seen in a pull, is there. Only a
// restore may lose an entry, and only one that no phone holds any more.
func (w *world) checkAcknowledged(there map[string]string, fault faultFunc) {
	held := map[string]bool{}
	for _, p := range w.phones {
		for id := range p.disk.entries {
			held[id] = true
		}
	}
	missing := func(id string, restoredSince bool) bool {
		_, ok := there[id]
		return !ok && !(restoredSince && !held[id])
	}
	for _, a := range w.log.acks {
		if missing(a.id, w.log.restores > a.restores) {
			fault("I1: %s was acknowledged to %s and is lost", a.id, a.phone)
		}
	}
	for _, item := range w.log.items {
		if missing(item.id, w.log.restores > 0) {
			fault("I1: %s was pulled and is lost", item.id)
		}
	}
}

// checkMade: every entry is on the server, or in its maker's outbox if it is one
// that must be refused.
func (w *world) checkMade(there map[string]string, fault faultFunc) {
	byName := map[string]*phone{}
	for _, p := range w.phones {
		byName[p.name] = p
	}
	for _, m := range w.log.made {
		if m.bad == "" && m.hlc <= m.after {
			fault("I6: %s of %s is stamped %s, and its phone had seen %s", m.id, m.phone, m.hlc, m.after)
		}
		if there[m.id] == m.text {
			if m.bad != "" {
				fault("I3: %s is on the server although it is bad: %s", m.id, m.bad)
			}
			continue
		}
		reason, kept := byName[m.phone].disk.outbox[m.id]
		switch {
		case w.log.wiped[m.id]:
		case !kept && m.bad == "" && !w.acknowledgedAndLost(m.id):
			fault("I3: %s of %s is neither on the server nor in the outbox", m.id, m.phone)
		case !kept && m.bad != "":
			fault("I3: %s of %s is bad (%s) and was thrown away", m.id, m.phone, m.bad)
		case kept && m.bad == "" && reason != "":
			fault("I5: %s of %s is good and was refused: %s", m.id, m.phone, reason)
		case kept && reason == "":
			fault("I5: %s of %s still waits", m.id, m.phone)
		}
	}
}

// acknowledgedAndLost leaves an entry to checkAcknowledged.
func (w *world) acknowledgedAndLost(id string) bool {
	return slices.ContainsFunc(w.log.acks, func(a ackSeen) bool { return a.id == id })
}

// checkReplicas: everybody holds what the server holds, beside what is parked,
// and the fold of it does not depend on the order in which it came.
func (w *world) checkReplicas(there map[string]string, final []pulledEntry, fault faultFunc) {
	var order []json.RawMessage
	for _, item := range final {
		order = append(order, item.Entry)
	}
	want := w.folded(order, false)
	for _, p := range w.phones {
		var arrived []json.RawMessage
		for _, id := range p.disk.arrival {
			if _, parked := p.disk.outbox[id]; !parked {
				arrived = append(arrived, p.disk.entries[id])
			}
		}
		mine := map[string]string{}
		for _, raw := range arrived {
			mine[idOf(raw)] = canonical(raw)
		}
		if !maps.Equal(mine, there) {
			fault("I2: %s holds %d entries, the server %d, and they differ", p.name, len(mine), len(there))
			continue
		}
		if got := w.folded(arrived, p.lapses.foldsArrival); got != want {
			fault("I2: %s folds the same entries to another state", p.name)
		}
	}
}

// folded is the state after entries, as JSON; with byArrival as if each had been
// stamped when it came.
func (w *world) folded(raws []json.RawMessage, byArrival bool) string {
	f := fleet.New()
	for i, raw := range raws {
		entry, err := journal.ParseEntry(raw)
		if err != nil {
			continue
		}
		if byArrival {
			entry.HLC = journal.Stamp{MS: w.nowMS + int64(i)}.String()
		}
		f.Add(entry)
	}
	overview := f.Overview(w.nowMS)
	state := []any{overview}
	for _, row := range overview.Packs {
		if pack, err := f.Pack(row.Code, w.nowMS); err == nil {
			state = append(state, pack)
		}
	}
	return string(mustJSON(state))
}

func idOf(raw json.RawMessage) string {
	var entry struct {
		ID string `json:"id"`
	}
	_ = json.Unmarshal(raw, &entry) // "" for what is no entry
	return entry.ID
}

// canonical is one text for all ways to write the same JSON.
func canonical(raw json.RawMessage) string {
	decoder := json.NewDecoder(strings.NewReader(string(raw)))
	var value any
	if decoder.Decode(&value) != nil {
		return string(raw)
	}
	return string(mustJSON(value))
}
