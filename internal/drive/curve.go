package drive

import (
	"math"

	"packwright/internal/measure"
)

// rows are at 0, 10, … 100 % of charge.
const rows = 11

// Published at each row (the simulator's files, named in package cells).
var (
	// volt of six 6.5 Ah cells in series at 25 °C (charge file)
	sixCellsV = [rows]float64{7.2370, 7.4047, 7.5106, 7.5873, 7.6459, 7.6909, 7.7294, 7.7666, 7.8078, 7.9143, 8.3645}
	// volt of a 45 Ah module of ten cells, charge falling, and held steady (large module file)
	fallingV = [rows]float64{11.9, 12.3, 12.6, 12.8, 12.9, 12.9, 13.0, 13.1, 13.2, 13.4, 13.7}
	steadyV  = [rows]float64{12.5, 12.8, 13.1, 13.3, 13.4, 13.4, 13.5, 13.6, 13.7, 13.9, 14.2}
	// ohm of the same six cells; the file says that the ends are extrapolated
	sixCellsOhm = [rows]float64{0.0377, 0.0338, 0.0300, 0.0280, 0.0275, 0.0268, 0.0269, 0.0273, 0.0283, 0.0298, 0.0312}
)

const (
	midRow, fullRow = 5, rows - 1

	// restPlusV is how far full, rested packs differ, per cell and either way:
	// ten cells rest at 12.6 to 13.0 V (from memory and common practice).
	restPlusV = 0.02

	// growthPlus is how far the resistance at any charge may be off, as a share:
	// it is flat within 6 %, and full packs, which are what is tested, read 6 to
	// 16 % more than those at mid charge (charge file, large module file).
	growthPlus = 0.16
	// emptyPlus is the same for an empty pack, where the large module file has
	// 2.2 times the resistance at mid charge.
	emptyPlus = 0.8
)

// open is the open-circuit voltage of n cells at a charge in percent, with what
// makes it uncertain: packs, curves and hysteresis.
//
// At full charge it is the team's own rest voltage, which somebody measured
// after a rest; the curves end 1 V higher, at cells fresh off the charger.
// Below, it is the mean of the two curves for falling charge, as in use, but
// never above the team's figure: the steep top of the curves is surface charge
// that has gone. Hysteresis counts either way with the distance from the falling
// curve to the steady one, half of the whole loop. Its sign with temperature
// differs between sources, so temperature is left out.
//
// Between rows everything is interpolated, the doubt as well.
func open(n int, chargePct, restV float64) (v float64, parts []measure.Component) {
	cells := float64(n)
	row := func(i int) (volts, curves, hysteresis float64) {
		if i == fullRow {
			return restV, 0, 0
		}
		six, ten := cells*sixCellsV[i]/6, cells*fallingV[i]/10
		return min(restV, (six+ten)/2), math.Abs(six-ten) / 2, cells * (steadyV[i] - fallingV[i]) / 10
	}
	i, part := place(chargePct)
	v0, c0, h0 := row(i)
	v1, c1, h1 := row(i + 1)
	return between(v0, v1, part), []measure.Component{
		rectangular(cells * restPlusV), rectangular(between(c0, c1, part)), rectangular(between(h0, h1, part)),
	}
}

// growth is the resistance at a charge over that of a load test, with the
// half-width of its doubt.
//
// Load tests are made on full packs. That those read higher than packs at mid
// charge is extrapolated in the source, so no credit is taken for it: the
// factor is 1 from 30 % up, and below it grows as the charge file's resistance
// grows from mid charge on.
func growth(chargePct float64) (factor, plus float64) {
	row := func(i int) (factor, plus float64) {
		switch {
		case i == fullRow:
			return 1, 0
		case i == 0:
			return sixCellsOhm[0] / sixCellsOhm[midRow], emptyPlus
		case i < 3:
			return sixCellsOhm[i] / sixCellsOhm[midRow], growthPlus
		}
		return 1, growthPlus
	}
	i, part := place(chargePct)
	f0, p0 := row(i)
	f1, p1 := row(i + 1)
	return between(f0, f1, part), between(p0, p1, part)
}

// place is the row below a charge and how far it is to the next.
func place(chargePct float64) (row int, part float64) {
	row = min(int(chargePct/10), fullRow-1)
	return row, chargePct/10 - float64(row)
}

// between is exact at both ends, and between equals.
func between(a, b, part float64) float64 {
	if part >= 1 {
		return b
	}
	return a + float64((b-a)*part)
}

// rectangular is a bound either way as a component of sensitivity 1.
func rectangular(halfWidth float64) measure.Component {
	e := measure.Rectangular(0, halfWidth)
	return measure.Component{Sensitivity: 1, StdUnc: e.StdUnc, DoF: e.DoF}
}
