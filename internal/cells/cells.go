// Package cells holds what nickel-metal hydride cells in series can and cannot
// show at their terminals.
//
// Use this first: TooLowV before a test, then LostCellV and HighestV on the
// open-circuit reading. All take the number of cells in series and give volt
// for the whole pack.
//
// Published sources, by the names used here and in loadtest. Where a document is
// a maker's, its kind stands for its name.
//
//   - simulator: ADVISOR, a vehicle simulator published with its source by a US
//     national laboratory. Module file: data/energy_storage/ESS_NiMH7_rc_temp.m,
//     pulse tests of 2001 at 1, 26 and 40 °C on a module of six 6.5 Ah cells.
//     Charge file: ESS_NIMH6.m there, resistance and voltage against charge of a
//     D-size 6.5 Ah cell at 25 °C. Large module file: voltage against charge,
//     rising and falling, of a 45 Ah module of ten cells.
//   - drive log: the sample of a hybrid car's drive that comes with the simulator,
//     voltage and current of 120 cells of 6.5 Ah, ten times a second for 1536 s.
//   - maker's specification: the product specification of a nickel-metal hydride
//     cell, undated, with tests after IEC 61951-2.
//   - makers' data sheets: of two makers' nickel-metal hydride cells, one set of
//     2005, one undated. The text of IEC 61951-2 itself was not seen.
package cells

import "math"

// Usual is the number of cells of a 12 V pack: 10 × 1.2 V nominal.
const Usual = 10

// Bounds on the number of cells for which the figures here make sense.
const (
	Fewest = 1
	Most   = 40
)

// TooLowV is the open-circuit voltage below which a pack is recharged and not
// tested: 1.1 V per cell, 11 V for ten. A cell driven into reversal is damaged
// (common practice, no source).
func TooLowV(n int) float64 { return float64(n) * 11 / 10 }

// HighestV is the open-circuit voltage that no pack exceeds: 1.6 V per cell,
// 16 V for ten. Packs of ten read 14.0 to 14.6 V straight off the charger
// (from memory) and the highest open-circuit table at hand ends at 14.6 V for
// ten cells (simulator, large module file, charge rising).
func HighestV(n int) float64 { return float64(n) * 16 / 10 }

// LostCellV is the open-circuit voltage below which a rested pack probably has
// a cell that is shorted or reversed. Such a cell takes 1.2 to 1.3 V off
// (common practice, no source).
//
// A full pack of ten reads 13.0 V or more an hour after the charge (1.30 V per
// cell, maker's specification), so a full one below 12.6 V, 1.26 V per
// cell, misses something; of one that may be part-empty only 12.0 V, 1.2 V per
// cell, can be said (from memory: below it, nearly empty or a dead cell).
func LostCellV(n int, full bool) float64 {
	if full {
		return float64(n) * 126 / 100
	}
	return float64(n) * 12 / 10
}

// EmptyOnLoadV is the voltage on load at which a discharge ends: 1.0 V per
// cell (IEC 61951-2, as quoted in makers' data sheets).
func EmptyOnLoadV(n int) float64 { return float64(n) }

// ImplausiblyLowOhm is a resistance that no such pack has: 2 mΩ per cell. The
// lowest figure at hand is 2.0 mΩ per cell, for a 6.5 Ah vehicle cell with
// heavy tabs, instantaneous (calculated from the simulator's module file); a
// 3 Ah pack of ten starts near 70 mΩ (calculated from the drive log, scaled by
// capacity, and common practice for wire and contacts). A result below it means that the load
// was not really connected.
func ImplausiblyLowOhm(n int) float64 { return float64(n) * 2 / 1000 }

// Slip tells which voltage was meant where a typed one is impossible as an
// open-circuit voltage of n cells, but a usual slip makes it possible:
// millivolts for volts or the other way, or a lost decimal point.
func Slip(volts float64, n int) (meant float64, found bool) {
	for _, divisor := range []float64{1000, 100, 10, 0.001, 0.01, 0.1} {
		if v := volts / divisor; v >= TooLowV(n) && v <= HighestV(n) {
			return v, true
		}
	}
	return 0, false
}

// ComparableC is the range of pack temperature, in °C, in which resistances
// compare: 20 ± 5 °C, the conditions of IEC 61951-2 as quoted in makers' data
// sheets.
const (
	ComparableLowC  = 15.0
	ComparableHighC = 25.0
)

// KneeC is the middle one of the three temperatures that ResistanceRatio rests
// on, in °C: above it the resistance falls more slowly.
const KneeC = 26.0

// ResistanceRatio is about how much higher the resistance at temperatureC is
// than at 20 °C: 2.6 % per °C up to 26 °C and 1.75 % above (calculated from the
// simulator's module file; other cells will differ). It is for judging whether readings compare, never for correcting
// a result.
func ResistanceRatio(temperatureC float64) float64 {
	below := 0.026 * (20 - min(temperatureC, KneeC))
	above := 0.0175 * (KneeC - max(temperatureC, KneeC))
	return math.Exp(below + above)
}
