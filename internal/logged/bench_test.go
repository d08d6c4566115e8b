package logged

import "testing"

// BenchmarkMillionRows reads and runs a file of 1,000,000 rows, in chunks of
// 64 kB as a browser gives them.
func BenchmarkMillionRows(b *testing.B) {
	file := []byte(asCSV("time_s,volts,amps", ",", ".", driven(1, 1_000_000, 0.01, newPack(0.1, 0.02))))
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		p, err := Look(file[:HeadBytes], false, 10, nil)
		if err != nil {
			b.Fatal(err)
		}
		a, err := Open(p.Format, Options{RatedAh: 3, BrownoutV: 9})
		if err != nil {
			b.Fatal(err)
		}
		for rest := file; len(rest) > 0; rest = rest[min(HeadBytes, len(rest)):] {
			_, _ = a.Write(rest[:min(HeadBytes, len(rest))])
		}
		if r, err := a.Finish(); err != nil || r.Rows != 1_000_000 {
			b.Fatal(err, r.Rows)
		}
	}
}
