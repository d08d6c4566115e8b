package demo

import (
	"fmt"
	"math/rand/v2"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/strictjson"
)

// diary writes entries as the club's devices would, and keeps the truth.
type diary struct {
	entries []journal.Entry
	truth   []Truth
	rand    *rand.Rand
	clocks  map[string]*journal.Clock // by device
	now     time.Time
	repeats float64 // share by which one pack differs from one test day to the next
	device  string
	by      string
}

func newDiary(seed1, seed2 uint64) *diary {
	return &diary{rand: rand.New(rand.NewPCG(seed1, seed2)), clocks: map[string]*journal.Clock{}, repeats: 0.012}
}

// date is midnight of a day written YYYY-MM-DD.
func date(text string) time.Time {
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err) // a slip in the story, which the tests run
	}
	return day
}

// on starts an afternoon: a day, a device and a person's initials. The devices
// have met since the last one, so the clock of this one has seen all entries.
func (d *diary) on(day time.Time, device, by string) {
	d.now = day.Add(14*time.Hour + time.Duration(d.rand.IntN(40*60))*time.Second)
	d.device, d.by = device, by
	if d.clocks[device] == nil {
		d.clocks[device] = &journal.Clock{}
	}
	if n := len(d.entries); n > 0 { // the latest stamp is the highest
		if s, err := journal.ParseStamp(d.entries[n-1].HLC); err == nil {
			d.clocks[device].Receive(s, 0)
		}
	}
}

// write adds an entry, a few minutes after the one before.
func (d *diary) write(kind journal.Kind, pack string, body any) journal.Entry {
	d.now = d.now.Add(time.Duration(90+d.rand.IntN(150)) * time.Second)
	raw, err := strictjson.Encode(body)
	if err != nil {
		panic(fmt.Sprintf("%s: %v", kind, err)) // as above
	}
	var random [10]byte
	for i := range random {
		random[i] = byte(d.rand.Uint32())
	}
	ms := d.now.UnixMilli()
	e := journal.Entry{
		ID: journal.NewID(ms, random), V: journal.Version, Kind: kind, Pack: pack, Device: d.device, By: d.by,
		HLC: d.clocks[d.device].Tick(ms).String(), Body: raw,
	}
	d.entries = append(d.entries, e)
	return e
}

// plant gives a pack a fault and keeps the truth of it.
func (d *diary) plant(p *pack, f fault) {
	p.faults = append(p.faults, f)
	d.true(p.code, f.cause, f.from, f.until)
}

func (d *diary) true(pack string, cause diagnose.Cause, from, until time.Time) {
	t := Truth{Pack: pack, Cause: cause, FromMS: from.UnixMilli()}
	if !until.IsZero() {
		t.UntilMS = until.UnixMilli()
	}
	d.truth = append(d.truth, t)
}

func (d *diary) note(p *pack, text string) {
	code := ""
	if p != nil {
		code = p.code
	}
	d.write(journal.Noted, code, journal.Note{Text: text})
}

func (d *diary) finding(p *pack, f journal.Finding, text string) journal.Entry {
	return d.write(journal.Inspected, p.code, journal.Inspection{Finding: f, Text: text})
}

func (d *diary) closed(p *pack, e journal.Entry, text string) {
	d.write(journal.FindingClosed, p.code, journal.FindingClose{Entry: e.ID, Text: text})
}

func (d *diary) voided(e journal.Entry, reason string) {
	d.write(journal.Voided, e.Pack, journal.Void{Entry: e.ID, Reason: reason})
}

func (d *diary) repaired(p *pack, part journal.RepairPart, text string) {
	d.write(journal.Repaired, p.code, journal.Repair{Part: part, Text: text})
}

// add puts a pack on the list.
func (d *diary) add(p *pack) {
	d.write(journal.PackAdded, p.code, journal.Profile{
		Name: &p.name, CapacityAh: &p.capacityAh, Cells: new(10), InService: &p.inService, FuseA: new(20.0),
		LeadMM2: new(1.5), LeadLengthMM: new(250.0), Connector: new("flat two-pole, 30 A"),
	})
}

func (d *diary) newCode() string {
	var random [32]byte
	for i := range random {
		random[i] = byte(d.rand.Uint32())
	}
	code, err := journal.NewCode(random[:])
	if err != nil {
		panic(err) // once in more draws than anybody makes
	}
	return code
}
