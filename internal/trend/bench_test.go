package trend

import (
	"math/rand/v2"
	"testing"
)

// Ten thousand tests on as many days: 5·10⁷ slopes.
func BenchmarkAnalyse10000(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 4))
	tests, _ := simulate(r, 10_000, 0.003, normal(0.02))
	b.ReportAllocs()
	for b.Loop() {
		mustAnalyse(b, tests, Options{LimitOhm: 0.5})
	}
}

// A fleet of 100 packs with 200 tests each, as a phone draws them all.
func BenchmarkFleet100x200(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 4))
	fleet := make([][]Test, 100)
	for i := range fleet {
		fleet[i], _ = simulate(r, 200, 0.01, normal(0.02))
	}
	b.ReportAllocs()
	for b.Loop() {
		for _, tests := range fleet {
			mustAnalyse(b, tests, Options{LimitOhm: 0.2})
		}
	}
}

// One pack of one season.
func BenchmarkAnalyse20(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 4))
	tests, _ := simulate(r, 20, 0.01, normal(0.02))
	b.ReportAllocs()
	for b.Loop() {
		mustAnalyse(b, tests, Options{LimitOhm: 0.1, Working: true})
	}
}
