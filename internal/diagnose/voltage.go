package diagnose

import (
	"cmp"
	"math"
	"slices"

	"packwright/internal/loadtest"
	"packwright/internal/trend"
)

// The open-circuit voltage of a full pack is compared with what the pack itself
// used to show and with what its sisters show on that day, each against its own
// past. Volt per pack of ten; other packs by their number of cells where a cell
// is meant, and not where scatter is.
const (
	historyTests = 8    // earlier tests that make the usual voltage
	fewestUsual  = 3    // of them, so that one wild one does not make it
	fewSisters   = 2    // sisters that make a day's voltage
	longRestMin  = 2880 // minute: after two days the pack has sunk, and is compared with others that have
	// Scatter of a full, rested pack is about 0.1 V: it sinks by some 0.2 V in the first
	// hours (common practice, no source) and by 8 mV per percent of charge (calculated
	// from the simulator's charge file that package cells names). 0.35 V is beyond that.
	offV = 0.35
	// A shorted or reversed cell takes 1.2 to 1.3 V off (common practice, no source).
	cellV, leastShortV = 1.25, 0.9
)

// reading is the open-circuit voltage of one test.
type reading struct {
	pack  *history
	test  int // index in Pack.Tests
	atMS  int64
	volts float64
	rests bool // longer than longRestMin

	offV    float64 // volt above what the pack usually shows, and sisters today; NaN where neither is known
	ownV    float64 // volt, what it usually shows; NaN unknown
	sisterV float64 // volt above what its sisters show today; NaN unknown
	sisters int     // how many were compared with
}

// openReadings are the voltages of full packs, by time.
func (h *history) openReadings() []reading {
	list := make([]reading, 0, len(h.Tests))
	for i := range h.Tests {
		t := &h.Tests[i]
		if t.OpenV != nil && t.Charge == loadtest.ChargeFull && t.Excluded == "" {
			list = append(list, reading{pack: h, test: i, atMS: t.AtMS, volts: *t.OpenV, rests: t.RestedMin != nil && *t.RestedMin > longRestMin, offV: math.NaN(), ownV: math.NaN(), sisterV: math.NaN()})
		}
	}
	return list
}

// readOpenVoltages reads the voltages of all packs, test day by test day.
func (f *Fleet) readOpenVoltages() {
	var all []*reading
	for _, h := range f.ordered {
		h.open = h.openReadings()
		for i := range h.open {
			all = append(all, &h.open[i])
		}
	}
	slices.SortFunc(all, func(a, b *reading) int {
		if a.atMS != b.atMS {
			return cmp.Compare(a.atMS, b.atMS)
		}
		return cmp.Or(a.pack.order-b.pack.order, a.test-b.test)
	})
	for from, to := 0, 0; from < len(all); from = to {
		for to = from; to < len(all) && sameDay(all[from].atMS, all[to].atMS); to++ {
		}
		for _, rests := range []bool{false, true} {
			readDay(slices.DeleteFunc(slices.Clone(all[from:to]), func(r *reading) bool { return r.rests != rests }))
		}
	}
	for _, h := range f.ordered {
		h.findLostCell()
		for i := range h.open {
			h.unreadyByVoltage(i)
		}
	}
}

// readDay compares the readings of one day: of a pack with a history the part that
// its sisters do not show as well, of a new one what it lies off theirs.
func readDay(list []*reading) {
	var off, volts []float64
	for _, r := range list {
		volts = append(volts, r.volts/r.pack.cells())
		if usual := r.pack.usualV; len(usual) >= fewestUsual && !r.rests {
			var recent [historyTests]float64
			n := copy(recent[:], usual[max(0, len(usual)-historyTests):])
			r.ownV = median(recent[:n])
			r.offV = r.volts - r.ownV
			off = append(off, r.offV)
		}
	}
	dayOff, dayVolts := median(off), median(volts)
	for _, r := range list {
		if len(volts) > fewSisters {
			r.sisters = len(volts) - 1
			r.sisterV = r.volts - dayVolts*r.pack.cells()
		}
		switch {
		case math.IsNaN(r.offV):
			r.offV = r.sisterV
		case len(off) > fewSisters:
			r.offV -= dayOff
		}
		if !r.rests && len(r.pack.unready[r.test]) == 0 && !(r.offV <= -leastShortV*2/3) { // without a cell it is not usual
			r.pack.usualV = append(r.pack.usualV, r.volts)
		}
	}
}

// beyond tells whether a reading is off by so many volts, down where that is
// negative: against its own past, and by half of it against its sisters as well.
func (r *reading) beyond(volts float64) bool {
	if volts < 0 {
		return r.offV <= volts && !(r.sisterV > volts/2)
	}
	return r.offV >= volts && !(r.sisterV < volts/2)
}

func sameDay(a, b int64) bool { return float64(b-a) < trend.SameOccasionHours*3_600_000 }

func (h *history) cells() float64 {
	if h.Cells > 0 {
		return float64(h.Cells)
	}
	return 10
}
