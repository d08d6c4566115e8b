package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"packwright/internal/journal"
)

// What a phone does in one exchange; the numbers are smaller than the web app's,
// so that short runs have many batches and pages.
const (
	simBatch  = 20
	simPage   = 25
	simOffer  = 40
	simPasses = 4
)

// lapses are the safeguards of a phone that can be switched off, one at a time.
type lapses struct {
	cursorFirst   bool // the cursor is saved before its page
	trustStatus   bool // any answer with status 200 counts as an acknowledgement
	dropRefused   bool // refused entries are deleted
	noOffer       bool // nothing is offered after a reset
	noSplit       bool // a batch refused whole is sent again as it is
	deafClock     bool // the clock ignores the stamps it has seen
	positional    bool // results are matched by their place, not by id
	forgetPartial bool // one accepted result lets the whole batch go
	foldsArrival  bool // entries are folded in the order they came, whatever their stamps
}

// phoneDisk is what survives a phone's crash. Every change to it is one
// transaction, as in the web app's database.
type phoneDisk struct {
	device   string
	entries  map[string]json.RawMessage // by id: all that is held, confirmed or not
	arrival  []string                   // ids in the order they came
	outbox   map[string]string          // id → why it was refused; empty: waiting
	progress progress
	newest   string // greatest stamp of all held, kept apart from the clock for the checker
}

type progress struct {
	epoch  string
	cursor uint64
	offer  bool // everything held must still be offered to this epoch
}

func newPhoneDisk(device string) phoneDisk {
	return phoneDisk{device: device, entries: map[string]json.RawMessage{}, outbox: map[string]string{}}
}

func (d *phoneDisk) hold(id string, raw json.RawMessage) bool {
	if _, known := d.entries[id]; known {
		return false
	}
	d.entries[id] = raw
	d.arrival = append(d.arrival, id)
	var entry journal.Entry
	if json.Unmarshal(raw, &entry) == nil {
		d.newest = max(d.newest, entry.HLC)
	}
	return true
}

func (d *phoneDisk) waiting() []string {
	var ids []string
	for id, refused := range d.outbox {
		if refused == "" {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	return ids
}

// phone is a model of the web app's data layer on one phone.
type phone struct {
	w    *world
	name string
	lapses
	disk     phoneDisk
	clock    journal.Clock
	offsetMS int64 // of its wall clock
	offline  bool
	at       *simServer // nil: the world's one server

	running  bool // an exchange is under way
	again    bool // and another one is wanted after it
	failures int
	life     int // counts crashes: what began in an earlier life is void
	resume   func() (request, bool)
	stop     func()
	reply    answer
}

var (
	errLater  = errors.New("not now")
	errKilled = errors.New("the phone died")
)

// refusedWhole is the server's verdict on a request as a whole.
type refusedWhole struct{ text string }

func (r refusedWhole) Error() string { return r.text }

// sync runs an exchange, or another one after the one that runs.
func (p *phone) sync() {
	if p.running {
		p.again = true
		return
	}
	p.running = true
	var outcome error
	p.resume, p.stop = iter.Pull(func(yield func(request) bool) {
		outcome = p.exchange(func(r request) (answer, error) {
			if !yield(r) {
				return answer{}, errKilled
			}
			return p.reply, nil
		})
	})
	p.step(&outcome)
}

// step lets the exchange go on to its next request, or ends it.
func (p *phone) step(outcome *error) {
	r, more := p.resume()
	if !more {
		p.ended(*outcome)
		return
	}
	life := p.life
	p.w.send(p, r, func(a answer) {
		if p.life == life {
			p.reply = a
			p.step(outcome)
		}
	})
	if p.w.chance(p.w.storm.phoneCrash) {
		p.w.after(p.w.between(0, time.Second), func() {
			if p.life == life {
				p.w.seen["phone crashed"]++
				p.crash()
			}
		})
	}
}

func (p *phone) ended(err error) {
	p.running = false
	wait := 30 * time.Second
	if err == nil {
		p.failures = 0
	} else {
		wait = min(2*time.Second<<p.failures, 2*time.Minute)
		p.failures = min(p.failures+1, 10)
	}
	if p.again {
		p.again = false
		wait = 0
	}
	life := p.life
	p.w.after(wait, func() {
		if p.life == life {
			p.sync()
		}
	})
}

// crash ends everything in memory; the disk stays. The app starts again at once.
func (p *phone) crash() {
	p.life++
	if p.running {
		p.stop()
	}
	p.running, p.again, p.failures = false, false, 0
	p.clock = journal.Clock{}
	for _, id := range p.disk.arrival {
		p.hear(p.disk.entries[id])
	}
	life := p.life
	p.w.after(p.w.between(0, 5*time.Second), func() {
		if p.life == life {
			p.sync()
		}
	})
}

// wipe is browser data cleared: everything is gone, the device id too.
func (p *phone) wipe() {
	p.w.seen["phone wiped"]++
	for id := range p.disk.outbox {
		p.w.log.wiped[id] = true
	}
	p.disk = newPhoneDisk(p.disk.device + "-new")
	p.crash()
}

// exchange is one round, the same as Exchange.run in the web app.
func (p *phone) exchange(ask func(request) (answer, error)) error {
	for range simPasses {
		if err := p.push(ask); err != nil {
			return err
		}
		if err := p.pull(ask); err != nil {
			return err
		}
		if !p.disk.progress.offer {
			return nil
		}
		wanted, err := p.offer(ask)
		if err != nil || !wanted {
			return err
		}
	}
	return errLater
}

func (p *phone) push(ask func(request) (answer, error)) error {
	unanswered := 0
	for batch := range slices.Chunk(p.disk.waiting(), simBatch) {
		n, err := p.sendBatch(ask, batch)
		if err != nil {
			return err
		}
		unanswered += n
	}
	if unanswered > 0 {
		return errLater
	}
	return nil
}

// sendBatch gives how many got no verdict. A batch refused as a whole is split
// until the culprit is alone.
func (p *phone) sendBatch(ask func(request) (answer, error), ids []string) (int, error) {
	texts := make([]string, len(ids))
	for i, id := range ids {
		texts[i] = string(p.disk.entries[id])
	}
	a, err := ask(request{"POST", "/api/v1/entries", []byte(`{"entries":[` + strings.Join(texts, ",") + `]}`)})
	if err != nil {
		return 0, err
	}
	if p.trustStatus && a.status == http.StatusOK {
		for _, id := range ids {
			p.acknowledged(id, 0, "")
		}
		return 0, nil
	}
	var body pushAnswer
	switch err := read(a, &body); {
	case errors.As(err, new(refusedWhole)) && len(ids) == 1:
		p.park(ids[0], err.Error())
		return 0, nil
	case errors.As(err, new(refusedWhole)) && !p.noSplit:
		middle := (len(ids) + 1) / 2
		first, err := p.sendBatch(ask, ids[:middle])
		if err != nil {
			return 0, err
		}
		second, err := p.sendBatch(ask, ids[middle:])
		return first + second, err
	case err != nil:
		return 0, errLater
	case body.Epoch == "" || body.Results == nil:
		return 0, errLater
	}
	return p.settle(ids, body), nil
}

func (p *phone) settle(ids []string, body pushAnswer) (unanswered int) {
	sent := map[string]bool{}
	for _, id := range ids {
		sent[id] = true
	}
	for i, r := range body.Results {
		id := r.ID
		if id == "" && r.Index < len(ids) {
			id = ids[r.Index]
		}
		if p.positional {
			id = ids[(i+1)%len(ids)] // as after an answer in another order
		}
		if !sent[id] {
			continue
		}
		switch r.Status {
		case "accepted", "duplicate":
			p.acknowledged(id, r.Seq, body.Epoch)
			if p.forgetPartial {
				for _, id := range ids {
					delete(p.disk.outbox, id)
				}
			}
		case "conflict", "refused":
			p.park(id, string(r.Status)+": "+r.Reason)
		default:
			continue
		}
		delete(sent, id)
	}
	return len(sent)
}

func (p *phone) acknowledged(id string, seq uint64, epoch string) {
	delete(p.disk.outbox, id)
	p.w.log.ack(p, id, seq, epoch)
}

func (p *phone) park(id, reason string) {
	p.w.seen["entry refused"]++
	if p.dropRefused {
		delete(p.disk.outbox, id)
		delete(p.disk.entries, id)
		p.disk.arrival = slices.DeleteFunc(p.disk.arrival, func(held string) bool { return held == id })
		return
	}
	p.disk.outbox[id] = reason
}

func (p *phone) pull(ask func(request) (answer, error)) error {
	resets := 0
	for {
		from := p.disk.progress
		path := fmt.Sprintf("/api/v1/entries?after=%d&limit=%d", from.cursor, simPage)
		if from.epoch != "" {
			path += "&epoch=" + from.epoch
		}
		a, err := ask(request{"GET", path, nil})
		if err != nil {
			return err
		}
		var page pullAnswer
		var reset resetAnswer
		if a.status == http.StatusConflict && json.Unmarshal(a.body, &reset) == nil && reset.Reset && reset.Epoch != "" {
			if resets++; resets > 2 {
				return errLater
			}
			p.w.seen["phone reset"]++
			p.disk.progress = progress{epoch: reset.Epoch, offer: !p.noOffer}
			continue
		}
		if err := read(a, &page); err != nil || page.Epoch == "" || page.Entries == nil ||
			page.Next < from.cursor || page.More && page.Next == from.cursor {
			return errLater
		}
		if err := p.apply(from, page); err != nil {
			return err
		}
		if !page.More {
			return nil
		}
	}
}

// apply stores a page together with the cursor behind it.
func (p *phone) apply(from progress, page pullAnswer) error {
	p.w.log.pulled(p, from.cursor, page)
	next := progress{epoch: page.Epoch, cursor: page.Next, offer: p.disk.progress.offer}
	if p.cursorFirst {
		p.disk.progress = next
		if p.w.chance(0.1) {
			return errLater // the page is never written
		}
	}
	for _, item := range page.Entries {
		var entry struct{ ID string }
		if json.Unmarshal(item.Entry, &entry) == nil && p.disk.hold(entry.ID, item.Entry) {
			p.hear(item.Entry)
		}
	}
	p.disk.progress = next
	return nil
}

// offer tells the server what it confirmed under another epoch, and says whether
// it wants some of it again.
func (p *phone) offer(ask func(request) (answer, error)) (bool, error) {
	epoch := p.disk.progress.epoch
	held := slices.DeleteFunc(slices.Sorted(maps.Keys(p.disk.entries)), func(id string) bool { _, unsent := p.disk.outbox[id]; return unsent })
	wantedAny := false
	for ids := range slices.Chunk(held, simOffer) {
		a, err := ask(request{"POST", "/api/v1/offer", mustJSON(offerRequest{IDs: ids})})
		if err != nil {
			return false, err
		}
		var body offerAnswer
		if err := read(a, &body); err != nil || body.Wanted == nil {
			return false, errLater
		}
		for _, id := range body.Wanted {
			if slices.Contains(ids, id) {
				p.disk.outbox[id] = ""
				wantedAny = true
				p.w.seen["entry given back"]++
			}
		}
	}
	if p.disk.progress.epoch == epoch {
		p.disk.progress.offer = false
	}
	return wantedAny, nil
}

// read takes an answer for ours only if it has our shape.
func read(a answer, into any) error {
	var refused problemAnswer
	switch a.status {
	case http.StatusOK:
		if json.Unmarshal(a.body, into) == nil {
			return nil
		}
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge:
		if json.Unmarshal(a.body, &refused) == nil && refused.Problem != nil {
			return refusedWhole{refused.Problem.Text}
		}
	}
	return errLater
}

// hear moves the clock past a stamp that has been seen.
func (p *phone) hear(raw json.RawMessage) {
	var entry journal.Entry
	if p.deafClock || json.Unmarshal(raw, &entry) != nil {
		return
	}
	if stamp, err := journal.ParseStamp(entry.HLC); err == nil {
		p.clock.Receive(stamp, p.wallMS())
	}
}

// wallMS is what the phone's own clock shows.
func (p *phone) wallMS() int64 { return max(0, p.w.nowMS+p.offsetMS) }
