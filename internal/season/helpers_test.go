package season

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/strictjson"
)

// day0 is a noon in the season, in unix ms: 2026-09-01 12:00 UTC.
const day0 = 1_788_264_000_000

// Pack codes; the last character of each is its check character by MOD 37,36.
const (
	packA = "7K3QXX"
	packB = "10101W"
)

// failer is a test, a benchmark or a property.
type failer interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// diary makes entries at any times.
type diary struct {
	t       failer
	n       int
	clock   journal.Clock
	entries []journal.Entry
	fleet   *fleet.Fleet
}

func newDiary(t failer) *diary { return &diary{t: t, fleet: fleet.New()} }

// write adds an entry of a day after day0.
func (d *diary) write(day float64, kind journal.Kind, pack, body string) journal.Entry {
	d.t.Helper()
	ms := int64(day0 + day*dayMS)
	d.n++
	e := journal.Entry{
		ID: journal.NewID(ms, [10]byte{byte(d.n >> 16), byte(d.n >> 8), byte(d.n)}), V: journal.Version, Kind: kind, Pack: pack,
		Device: "phone-1", By: "MK", HLC: d.clock.Tick(ms).String(), Body: json.RawMessage(body),
	}
	if err := e.Check(); err != nil {
		d.t.Fatalf("%s %s: %v", kind, body, err)
	}
	d.entries = append(d.entries, e)
	d.fleet.Add(e)
	return e
}

func (d *diary) add(day float64, pack, name string) {
	d.write(day, journal.PackAdded, pack, fmt.Sprintf(`{"name":%q,"capacity_ah":3,"cells":10,"fuse_a":20}`, name))
}

// testBody is a load test that comes to ohm, with a fine meter.
func testBody(ohm float64, more string) string { return testBodyFrom(13.4, ohm, more) }

// testBodyFrom is testBody of a pack with another open-circuit voltage.
func testBodyFrom(open, ohm float64, more string) string {
	const load = 2.5
	volts := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
	loaded := volts(open * load / (load + ohm))
	return fmt.Sprintf(`{"method":"known-load","open_v":[%v,%v,%v],"loaded_v":[%v,%v,%v],"load_ohm":%v,"load_uncertainty_ohm":0.005,"meter":{"reading_pct":0.1,"counts":2,"resolution_v":0.0001},"read_after_s":5,"charge":"full","rested_min":120%s}`,
		open, open, open, loaded, loaded, volts(loaded+0.0001), load, more)
}

func (d *diary) test(day float64, pack string, ohm float64) journal.Entry {
	return d.write(day, journal.LoadTest, pack, testBody(ohm, ""))
}

func (d *diary) health(code string, day float64) Health {
	d.t.Helper()
	h, err := New(d.fleet).Health(code, int64(day0+day*dayMS))
	if err != nil {
		d.t.Fatal(err)
	}
	return h
}

func (d *diary) board(day float64, r BoardRequest) Board {
	d.t.Helper()
	r.NowMS = int64(day0 + day*dayMS)
	b, err := New(d.fleet).Board(r)
	if err != nil {
		d.t.Fatal(err)
	}
	return b
}

// text is a value as it crosses the door, which also shows that it can.
func text(t failer, v any) string {
	t.Helper()
	raw, err := strictjson.Encode(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// codes are n pack codes.
func codes(t failer, n int) []string {
	t.Helper()
	r := rand.New(rand.NewPCG(1, 2))
	seen := map[string]bool{}
	var list []string
	for len(list) < n {
		random := make([]byte, 32)
		for i := range random {
			random[i] = byte(r.Uint32())
		}
		code, err := journal.NewCode(random)
		if err != nil {
			t.Fatal(err)
		}
		if !seen[code] {
			seen[code] = true
			list = append(list, code)
		}
	}
	return list
}
