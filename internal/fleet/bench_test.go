package fleet

import (
	"encoding/json"
	"fmt"
	"testing"

	"packwright/internal/journal"
)

// bigJournal is n entries over 24 packs: load tests, with a few of all else.
func bigJournal(b *testing.B, n int) []json.RawMessage {
	b.Helper()
	p := newPhone(b, "one")
	code := codes(b, 24)
	var raws []json.RawMessage
	for i := range n {
		c := code[i%len(code)]
		var e journal.Entry
		switch i / len(code) % 20 {
		case 0:
			e = p.makes(journal.ProfileChanged, c, fmt.Sprintf(`{"name":"Heron %d","capacity_ah":3,"cells":10,"fuse_a":20}`, i%len(code)))
		case 1:
			e = p.makes(journal.Noted, c, `{"text":"looked at the connector, cleaned it"}`)
		case 2:
			e = p.makes(journal.Inspected, c, `{"finding":"sound"}`)
		default:
			e = p.makes(journal.LoadTest, c, fmt.Sprintf(`{"method":"known-load","open_v":[12.84,12.84,12.83],"loaded_v":[12.%02d,12.%02d,12.%02d],"load_ohm":2.5,"load_uncertainty_ohm":0.005,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"read_after_s":5,"temperature_c":21,"charge":"full","rested_min":90}`, 30+i%20, 30+i%20, 31+i%20))
		}
		p.count = byte(i)
		raw, err := json.Marshal(e)
		if err != nil {
			b.Fatal(err)
		}
		raws = append(raws, raw)
	}
	return raws
}

// From the raw JSON of 10,000 entries to the first overview; the aim on a phone
// is 200 ms.
func BenchmarkFold10000(b *testing.B) {
	raws := bigJournal(b, 10_000)
	b.ReportAllocs()
	for b.Loop() {
		f := New()
		for _, raw := range raws {
			e, err := journal.ParseEntry(raw)
			if err != nil {
				b.Fatal(err)
			}
			f.Add(e)
		}
		if o := f.Overview(day0); len(o.Packs) != 24 {
			b.Fatalf("%d packs", len(o.Packs))
		}
	}
}

// After one more entry has come.
func BenchmarkOverviewAfterOneMore(b *testing.B) {
	f := New()
	var last journal.Entry
	for _, raw := range bigJournal(b, 10_000) {
		e, err := journal.ParseEntry(raw)
		if err != nil {
			b.Fatal(err)
		}
		f.Add(e)
		last = e
	}
	for i := int64(0); b.Loop(); i++ {
		last.ID = journal.NewID(day0+i, [10]byte{})
		f.Add(last)
		f.Overview(day0)
	}
}

func BenchmarkPackOf400Tests(b *testing.B) {
	f := New()
	for _, raw := range bigJournal(b, 10_000) {
		e, err := journal.ParseEntry(raw)
		if err != nil {
			b.Fatal(err)
		}
		f.Add(e)
	}
	code := codes(b, 1)[0]
	for b.Loop() {
		if _, err := f.Pack(code, day0); err != nil {
			b.Fatal(err)
		}
	}
}
