package diagnose

import (
	"math/rand/v2"
	"strconv"
	"testing"
)

// A fleet of 100 packs with 200 tests each, of which some age, some have a bad
// contact, and one day was off: what a phone works out when a test comes in.
func BenchmarkFleet100x200(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 4))
	packs := make([]Pack, 100)
	for i := range packs {
		ohm := steady(r, 0.08, 200)
		switch i % 10 {
		case 0:
			ohm = worn(0.08, 0.5, 200)
		case 1:
			for k := 150; k < 200; k++ {
				ohm[k] += 0.02
			}
		}
		packs[i] = aPack("P"+strconv.Itoa(i), ohm...)
	}
	shiftedBy(packs, 1.12, 100)
	b.ReportAllocs()
	for b.Loop() {
		f := Survey(packs, Rules{})
		for i := range packs {
			f.Examine(packs[i].Code, 0.1, nil)
		}
	}
}

// One pack with more tests than any has.
func BenchmarkPack10000(b *testing.B) {
	packs := []Pack{aPack("A", steady(rand.New(rand.NewPCG(1, 4)), 0.08, 10_000)...)}
	b.ReportAllocs()
	for b.Loop() {
		Survey(packs, Rules{}).Examine("A", 0.1, nil)
	}
}
