package loadtest

import "testing"

// TestSameBits: the figures a decision rests on are the same to the last bit
// wherever this test runs. They were written on amd64; the tests also run as
// WebAssembly, and must not differ on arm64, where x*y+z may be fused.
func TestSameBits(t *testing.T) {
	three := bench()
	three.OpenV, three.LoadedV = []float64{12.84, 12.84, 12.83}, []float64{12.71, 12.70, 12.71}
	noisy := simulated[1].test
	noisy.OpenV, noisy.LoadedV = []float64{13.1, 13.07, 13.16, 13.2}, []float64{12.4, 12.31, 12.36, 12.44}
	current := simulated[3].test
	current.OpenV, current.LoadedV, current.CurrentA = []float64{12.84, 12.91}, []float64{12.30, 12.28}, []float64{4.9, 4.7}
	for i, c := range []struct {
		test Test
		r, u float64
	}{
		{bench(), 0x1.a2f21a2f21a4p-04, 0x1.a965246fd514p-06},
		{three, 0x1.a30e3cb59732p-04, 0x1.c5297f522b5a9p-06},
		{noisy, 0x1.3e8e072d48e57p-03, 0x1.ade69e384a8dp-07},
		{simulated[2].test, 0x1.bf55bfaca147cp-04, 0x1.212ef4633f0ddp-07},
		{current, 0x1.f33333333333fp-04, 0x1.25f6fb9cb788ep-03},
	} {
		r := mustCompute(t, c.test)
		if r.ResistanceOhm != c.r || r.ExpandedUncertaintyOhm != c.u {
			t.Errorf("%d: R, U = %x, %x, want %x, %x", i, r.ResistanceOhm, r.ExpandedUncertaintyOhm, c.r, c.u)
		}
	}
}
