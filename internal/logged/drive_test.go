package logged

import (
	"math"
	"os"
	"testing"
)

// driveLog is the first half of the drive log that package cells names: 120
// cells of 6.5 Ah, 768 s, ten rows a second. Its licence lets anybody use it,
// but it is not part of this project; the test runs where a copy is at hand.
func driveLog(t testing.TB) []byte {
	path := os.Getenv("PACKWRIGHT_DRIVE_LOG")
	if path == "" {
		t.Skip("NOT CHECKED here: PACKWRIGHT_DRIVE_LOG may name a file with the drive log")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestDriveLog: figures worked out from the same file by other programs, as its
// note states them: 3.37 mΩ per cell by least squares over all rows, 3.0 ± 0.1 mΩ
// per cell one second after the load went off.
func TestDriveLog(t *testing.T) {
	data := driveLog(t)
	p, err := Look(data[:HeadBytes], false, 120, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Doubts) > 0 || p.Format.VoltColumn != 2 || p.Format.AmpColumn != 3 || p.Format.FirstRow != 2 {
		t.Errorf("%+v", p)
	}
	a, err := Open(p.Format, Options{Cells: 120, RatedAh: 6.5})
	if err != nil {
		t.Fatal(err)
	}
	_, _ = a.Write(data)
	r, err := a.Finish()
	if err != nil {
		t.Fatal(err)
	}
	if r.Rows != 7680 || r.SetAside != 0 || math.Abs(r.DurationS-767.9) > 1e-9 || r.SignTurned {
		t.Errorf("%d rows, %d set aside, %g s, turned %t: %+v", r.Rows, r.SetAside, r.DurationS, r.SignTurned, r.Issues)
	}
	perCell := func(e *Estimate) float64 { return e.Value / 120 * 1000 }
	if e := r.Resistance.LeastSquaresOhm; math.Abs(perCell(e)-3.37) > 0.005 || math.Abs(e.Value-0.404) > 0.0005 {
		t.Errorf("least squares: %.4f mΩ per cell", perCell(e))
	}
	if e := r.Resistance.ReleaseOhm; math.Abs(perCell(e)-3.0) > 0.1 || e.Observations < 7 || e.Observations > 12 {
		t.Errorf("one second after release: %.4f mΩ per cell from %d", perCell(e), e.Observations)
	}
	// The robust slope has no published figure: it lies between the two, and agrees
	// with both within their uncertainties.
	if e := r.Resistance.RobustOhm; perCell(e) < 2.9 || perCell(e) > 3.4 || r.Resistance.WholeRun {
		t.Errorf("robust: %.4f mΩ per cell", perCell(e))
	}
	for _, e := range []*Estimate{r.Resistance.LeastSquaresOhm, r.Resistance.RobustOhm, r.Resistance.ReleaseOhm} {
		t.Logf("%.3f mΩ ± %.3f mΩ per cell from %d", perCell(e), 1000*(*e.ExpandedUncertainty)/120, e.Observations)
	}
}
