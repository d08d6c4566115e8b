package season

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"packwright/internal/fleet"
	"packwright/internal/journal"
)

// season100 is 100 packs of 200 tests each over 400 days: each test day all packs,
// most packs steady, every fourth one wearing.
func season100(b *testing.B) *diary {
	d := newDiary(b)
	r := rand.New(rand.NewPCG(3, 4))
	packs := codes(b, 100)
	for i, code := range packs {
		d.add(0, code, fmt.Sprintf("Heron %d", i))
	}
	for day := range 200 {
		for i, code := range packs {
			ohm := 0.06 + 0.0002*float64(i)
			if i%4 == 0 {
				ohm *= 1 + 0.001*float64(day)
			}
			d.test(1+2*float64(day)+float64(i)/1000, code, ohm*(1+0.02*r.NormFloat64()))
		}
	}
	return d
}

const benchDay = 402

func benchBoard(b *testing.B, s *Season) {
	b.Helper()
	board, err := s.Board(BoardRequest{NowMS: day0 + benchDay*dayMS})
	if err != nil || len(board.Rows) != 100 {
		b.Fatalf("%d rows, %v", len(board.Rows), err)
	}
}

// From a folded fleet to the first board. The aim on a phone is 1 s.
func BenchmarkBoard100x200Cold(b *testing.B) {
	d := season100(b)
	b.ReportAllocs()
	for b.Loop() {
		benchBoard(b, New(d.fleet))
	}
}

// From entries, nothing folded or computed.
func BenchmarkBoard100x200FromEntries(b *testing.B) {
	d := season100(b)
	for b.Loop() {
		f := fleet.New()
		for _, e := range d.entries {
			f.Add(e)
		}
		benchBoard(b, New(f))
	}
}

// The same again, at another time. The aim on a phone is 200 ms.
func BenchmarkBoard100x200Warm(b *testing.B) {
	s := New(season100(b).fleet)
	benchBoard(b, s)
	for b.Loop() {
		benchBoard(b, s)
	}
}

// After one more test has come. The aim on a phone is 200 ms.
func BenchmarkBoard100x200AfterOneMore(b *testing.B) {
	d := season100(b)
	s := New(d.fleet)
	benchBoard(b, s)
	last := d.entries[len(d.entries)-1]
	for i := int64(0); b.Loop(); i++ {
		last.ID = journal.NewID(day0+401*dayMS+i, [10]byte{})
		d.fleet.Add(last)
		benchBoard(b, s)
	}
}

func BenchmarkHealthOf10000Tests(b *testing.B) {
	d := newDiary(b)
	d.add(0, packA, "Heron 1")
	for i := range 10_000 {
		d.test(1+float64(i)/25, packA, 0.08)
	}
	for b.Loop() {
		if h, err := New(d.fleet).Health(packA, day0+benchDay*dayMS); err != nil || h.Trend == nil {
			b.Fatal(h.Problem, err)
		}
	}
}
