package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"
)

var (
	simSeeds = flag.Int("sim.seeds", 200, "simulated runs")
	simFirst = flag.Uint64("sim.first", 1, "seed of the first run")
)

// TestSync plays many seeded runs of phones and a server on the real handlers
// and the real store, and checks the invariants after each. To see one again:
//
//	go test ./server -run TestSync$ -sim.first SEED -sim.seeds 1
//
// Of the sync scenarios it plays lost answers (1), duplicates and overlapping
// batches (2, 3), an id used again (4), poison (5), cut uploads (6), kills (7),
// phones that crash between page and cursor (14), older copies restored or put in
// place by hand (15, 16), a wiped phone (17), a cloned one (18), wrong and jumping
// clocks (19) and several phones at one pack (20). The test fails if one of them
// did not happen.
func TestSync(t *testing.T) {
	seeds := *simSeeds
	if testing.Short() {
		seeds = min(seeds, 10)
	}
	total := playLanes(t, seeds, playReal)
	if seeds < 50 {
		return
	}
	for _, what := range []string{"request dropped", "answer lost", "answer cut", "upload cut", "delivered twice", "late delivery",
		"captive portal", "server killed", "server killed in a push", "server restarted", "older copy restored", "phone crashed",
		"phone reset", "phone wiped", "phone cloned", "clock jumped", "id used again", "entry refused", "entry given back"} {
		if total[what] == 0 {
			t.Errorf("in %d runs there was no: %s", seeds, what)
		}
	}
}

// playLanes plays that many seeds, several at a time, logs what happened in all of
// them together, and gives it.
func playLanes(t *testing.T, seeds int, play func(t *testing.T, seed uint64, seen map[string]int)) (total map[string]int) {
	t.Helper()
	const lanes = 4 // most of a run is waiting for the disk
	seen := make([]map[string]int, lanes)
	t.Run("lanes", func(t *testing.T) {
		for lane := range lanes {
			t.Run(fmt.Sprint(lane), func(t *testing.T) {
				t.Parallel()
				seen[lane] = map[string]int{}
				for i := lane; i < seeds; i += lanes {
					play(t, *simFirst+uint64(i), seen[lane])
				}
			})
		}
	})
	t.Logf("seeds %d to %d", *simFirst, *simFirst+uint64(seeds)-1)
	total = map[string]int{}
	for _, lane := range seen {
		for what, n := range lane {
			total[what] += n
		}
	}
	for _, what := range slices.Sorted(maps.Keys(total)) {
		t.Logf("%6d × %s", total[what], what)
	}
	return total
}

// playReal is one run on the real store.
func playReal(t *testing.T, seed uint64, seen map[string]int) {
	w := newWorld(t, seed)
	b := newRealBackend(t, t.TempDir())
	found := w.play(b, lapses{})
	b.close()
	for what, n := range w.seen {
		seen[what] += n
	}
	if len(found) > 0 {
		t.Errorf("seed %d: %s", seed, strings.Join(found[:min(len(found), 10)], "\n"))
	}
}

// TestSyncRepeats: a seed gives the same run again, or printing it would be of no use.
func TestSyncRepeats(t *testing.T) {
	play := func() string {
		w := newWorld(t, 7)
		w.play(newMemBackend(faults{}, w.rand), lapses{})
		return fmt.Sprint(w.seen, w.nowMS, w.readAll())
	}
	if first, second := play(), play(); first != second {
		t.Error("seed 7 played twice gives two runs")
	}
}

// TestSyncChecker switches off one safeguard at a time and sees that the checker
// notices within some seeds, and that with all safeguards on it finds nothing in
// the same seeds.
func TestSyncChecker(t *testing.T) {
	const most = 60
	run := func(t *testing.T, seed uint64, f faults, l lapses) []string {
		w := newWorld(t, seed)
		return w.play(newMemBackend(f, w.rand), l)
	}
	last := uint64(0)
	for _, c := range []struct {
		name string
		faults
		lapses
		want string // the invariant that must fail
	}{
		{name: "server stores a known id again", faults: faults{noDedup: true}, want: "I1"},
		{name: "server overwrites a known id", faults: faults{overwrite: true}, want: "I4"},
		{name: "server numbers before the commit", faults: faults{earlySeq: true}, want: "I4"},
		{name: "server acknowledges before the disk", faults: faults{earlyAck: true}, want: "I1"},
		{name: "server keeps its epoch after a restore", faults: faults{keepEpoch: true}, want: "I1"},
		{name: "server refuses a batch for one bad entry", faults: faults{wholeBatch: true}, want: "I5"},
		{name: "server leaves large entries out of pages", faults: faults{skipLargePage: true}, want: "I4"},
		{name: "server stores half of a long entry", faults: faults{half: true}, want: "I3: the server holds"},
		{name: "phone saves the cursor before the page", lapses: lapses{cursorFirst: true}, want: "I2"},
		{name: "phone believes any status 200", lapses: lapses{trustStatus: true}, want: "I1"},
		{name: "phone deletes what is refused", lapses: lapses{dropRefused: true}, want: "I3"},
		{name: "phone offers nothing after a reset", lapses: lapses{noOffer: true}, want: "I1"},
		{name: "phone sends a refused batch again as it is", lapses: lapses{noSplit: true}, want: "I5"},
		{name: "phone's clock ignores what it has seen", lapses: lapses{deafClock: true}, want: "I6"},
		{name: "phone matches results by place", lapses: lapses{positional: true}, want: "I4"},
		{name: "phone folds as entries come", lapses: lapses{foldsArrival: true}, want: "I2: "},
		{name: "phone lets a batch go for one accepted entry", lapses: lapses{forgetPartial: true}, want: "I3"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := uint64(1); seed <= most; seed++ {
				found := run(t, seed, c.faults, c.lapses)
				if slices.ContainsFunc(found, func(f string) bool { return strings.HasPrefix(f, c.want) }) {
					t.Logf("seed %d: %s", seed, found[0])
					last = max(last, seed)
					return
				}
			}
			t.Errorf("not noticed in %d seeds", most)
		})
	}
	t.Run("nothing switched off", func(t *testing.T) {
		for seed := uint64(1); seed <= max(last, 10); seed++ {
			if found := run(t, seed, faults{}, lapses{}); len(found) > 0 {
				t.Errorf("seed %d: %s", seed, found[0])
			}
		}
	})
}

// play lets phones and server live through twenty bad minutes, heals everything,
// and gives what the checker finds.
func (w *world) play(b backend, l lapses) []string {
	w.log.wiped = map[string]bool{}
	w.server = newSimServer(w, b)
	bad := func(most float64) float64 { return w.rand.Float64() * most }
	w.storm = storm{drop: bad(0.1), loseAnswer: bad(0.2), cutUpload: bad(0.1), cutAnswer: bad(0.1), twice: bad(0.1), slow: bad(0.1),
		portal: bad(0.05), killInPush: bad(0.03), poison: bad(0.1), phoneCrash: bad(0.05)}
	clocks := wrongClocks(w.nowMS)
	for i := range 2 + w.rand.IntN(4) {
		name := string(rune('a' + i))
		p := &phone{w: w, name: name, lapses: l, disk: newPhoneDisk("phone-" + name), offsetMS: clocks[w.rand.IntN(len(clocks))]}
		w.phones = append(w.phones, p)
		w.after(w.between(0, time.Minute), p.sync)
	}
	const minutes = 20
	w.schedule(minutes * time.Minute)
	w.runUntil(minutes*time.Minute, func() bool { return false })

	w.storm = storm{}
	for _, p := range w.phones {
		p.offline = false
		p.sync()
	}
	if !w.runUntil(2*time.Hour, w.settled) {
		return append(w.check(w.readAll()), "I5: not settled after two quiet hours: "+w.state())
	}
	return w.check(w.readAll())
}

// schedule draws what will happen to whom.
func (w *world) schedule(span time.Duration) {
	at := func(f func()) { w.after(w.between(0, span), f) }
	times := func(most int, f func()) {
		for range w.rand.IntN(most + 1) {
			at(f)
		}
	}
	anyone := func() *phone { return w.phones[w.rand.IntN(len(w.phones))] }
	for range 20 + w.rand.IntN(60) {
		at(func() { anyone().write() })
	}
	times(2, func() { // a batch at once, as after a day out of reach
		p := anyone()
		for range 5 + w.rand.IntN(30) {
			p.write()
		}
	})
	times(2, w.server.kill)
	times(1, w.server.restart)
	times(2, func() {
		if w.server.up {
			w.server.backend.snapshot()
		}
	})
	times(1, w.server.restore)
	times(3, w.forge)
	times(4, func() {
		p := anyone()
		p.offline = true
		w.after(w.between(time.Second, span/2), func() { p.offline = false; p.sync() })
	})
	times(3, func() {
		clocks := wrongClocks(w.nowMS)
		anyone().offsetMS = clocks[w.rand.IntN(len(clocks))]
		w.seen["clock jumped"]++
	})
	if w.chance(0.3) {
		at(func() { anyone().wipe() })
	}
	if w.chance(0.3) {
		at(func() { w.clone(anyone()) })
	}
}

// clone copies a phone's storage to another one, device id and all.
func (w *world) clone(p *phone) {
	w.seen["phone cloned"]++
	disk := p.disk
	disk.entries, disk.outbox, disk.arrival = maps.Clone(disk.entries), maps.Clone(disk.outbox), slices.Clone(disk.arrival)
	twin := &phone{w: w, name: fmt.Sprintf("%s-twin-%d", p.name, len(w.phones)), lapses: p.lapses, disk: disk, offsetMS: p.offsetMS, at: p.at}
	w.phones = append(w.phones, twin)
	twin.crash()
}

// settled reports whether every phone has sent everything it can and holds
// everything up to the head.
func (w *world) settled() bool {
	if !w.server.up {
		return false
	}
	epoch, seq := w.server.backend.Head()
	return !slices.ContainsFunc(w.phones, func(p *phone) bool {
		return len(p.disk.waiting()) > 0 || p.disk.progress != progress{epoch: epoch, cursor: seq}
	})
}

func (w *world) state() string {
	epoch, seq := w.server.backend.Head()
	text := fmt.Sprintf("server up %v, %.8s/%d", w.server.up, epoch, seq)
	for _, p := range w.phones {
		text += fmt.Sprintf("; %s %d waiting, %.8s/%d, offer %v", p.name, len(p.disk.waiting()), p.disk.progress.epoch, p.disk.progress.cursor, p.disk.progress.offer)
	}
	return text
}

// readAll pulls everything as a new phone would, in pages of changing size.
func (w *world) readAll() []pulledEntry {
	var all []pulledEntry
	query, limits := "", []int{1, 2, 7, 1000}
	for after := uint64(0); ; {
		limit := limits[w.rand.IntN(len(limits))]
		a := w.server.handle(request{"GET", fmt.Sprintf("/api/v1/entries?after=%d&limit=%d%s", after, limit, query), nil})
		var page pullAnswer
		if err := json.Unmarshal(a.body, &page); err != nil || a.status != 200 {
			w.t.Fatalf("seed %d: last pull: %d %s", w.seed, a.status, a.body)
		}
		all = append(all, page.Entries...)
		if !page.More {
			return all
		}
		after, query = page.Next, "&epoch="+page.Epoch
	}
}
