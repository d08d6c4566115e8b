package demo

import (
	"math"
	"time"

	"packwright/internal/diagnose"
)

// pack is a battery pack as it really is, which the club does not know.
type pack struct {
	name, code string
	inService  string  // date
	capacityAh float64 // rated
	cells      float64 // resistance of its cells against new ones, on seasonStart
	perDay     float64 // growth of that a day
	contactOhm float64 // tabs, fuse, lead and connector
	holds      float64 // charge it holds against its rating
	leaks      float64 // share of the rating that it loses in 30 days
	openV      float64 // volt that it lies above others, by make and age
	perK       float64 // what its cells' resistance falls by per kelvin, against usual; 0 is 1
	faults     []fault
	chargedAt  time.Time // end of its latest full charge
	checkedAt  time.Time // end of a capacity check that no charge was noted after
	outAh      float64   // what came out in it
}

// fault is something that goes wrong with a pack at some time.
type fault struct {
	cause diagnose.Cause
	from  time.Time
	until time.Time // zero: never mended
	ohm   float64   // a contact's, on the days when it shows
	often float64   // share of the days on which it shows
	rough float64   // share by which a contact's part differs from one reading to the next
	rise  float64   // a day, of ageing cells
}

func (f *fault) active(at time.Time) bool {
	return !at.Before(f.from) && (f.until.IsZero() || at.Before(f.until))
}

// lost tells whether a cell is shorted.
func (p *pack) lost(at time.Time) bool {
	for i := range p.faults {
		if f := &p.faults[i]; f.cause == diagnose.LostCell && f.active(at) {
			return true
		}
	}
	return false
}

// seasonStart is the day that wear is counted from.
var seasonStart = time.Date(2026, 8, 31, 0, 0, 0, 0, time.UTC)

// resistance is what the pack shows some seconds after a load is put on, by a
// simple equivalent circuit of ten cells in series: an ohmic part, a slow part
// with a time constant of 13 s, both falling with temperature, and the rest of
// the circuit. The constants are a calculation from open pulse data and cell
// data for a new pack of 3 Ah, rounded; no cell maker's value. Contacts that are
// bad come on top, see contact.
func (p *pack) resistance(at time.Time, seconds, celsius float64) float64 {
	const fastOhm, slowOhm, slowS, atC = 0.0044, 0.0024, 13, 26
	perK := 0.026
	if celsius > atC {
		perK = 0.0175
	}
	if p.perK > 0 {
		perK *= p.perK
	}
	age := p.cells + p.perDay*at.Sub(seasonStart).Hours()/24
	n := 10.0
	for i := range p.faults {
		switch f := &p.faults[i]; {
		case f.cause == diagnose.AgeingCells && !at.Before(f.from):
			age += f.rise * at.Sub(f.from).Hours() / 24
		case f.cause == diagnose.LostCell && f.active(at):
			n = 9 // a short takes a cell's resistance away with its voltage
		}
	}
	cell := (fastOhm + slowOhm*(1-math.Exp(-seconds/slowS))) * age * math.Exp(-perK*(celsius-atC))
	return n*cell + p.contactOhm
}

// rest is the open-circuit voltage of the full pack so many minutes after its
// charge. Surface charge goes in hours (common practice, no source); then it sinks
// as charge is lost, by 8 mV per percent and faster when little is left (calculated
// from a published curve of voltage against charge of a 6.5 Ah cell).
func (p *pack) rest(at time.Time, minutes float64) float64 {
	const cellV, perPct, last = 1.25, 0.008, 80
	v := 13.5 - 0.25*math.Log10(max(minutes, 3)/60) + p.openV
	if days := minutes / 1440; days > 1 {
		lost := p.lostPct(days)
		v = 13.5 - 0.25*math.Log10(24) + p.openV - perPct*lost - 0.04*max(0, lost-last)
	}
	if p.lost(at) {
		v -= cellV
	}
	return v
}

// lostPct is the charge lost after days, in percent of the rating: some on the first
// day, then in proportion to what is left (from memory: 5 to 10 %, then 0.5 to 1 %
// a day).
func (p *pack) lostPct(days float64) float64 {
	return 100 * (1 - math.Pow(1-p.leaks, days/30))
}

// ocv is the open-circuit voltage of ten cells against charge, from 0 to 1 in
// steps of a tenth: a published curve of a 6.5 Ah cell at 25 °C, times ten over six
// of its module's cells.
var ocv = [11]float64{12.06, 12.34, 12.52, 12.65, 12.74, 12.82, 12.88, 12.94, 13.01, 13.19, 13.6}

// voltsAt is that voltage, with the knee that the curve's steps do not show: in the
// last few percent it falls away (common practice, no source).
func voltsAt(charge float64) float64 {
	charge = max(charge, 0)
	i := min(int(charge*10), 9)
	share := charge*10 - float64(i)
	return ocv[i] + share*(ocv[i+1]-ocv[i]) - 2.2*math.Exp(-charge/0.015)
}
