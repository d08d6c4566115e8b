package demo

import (
	"math"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
)

// bench is what the club tests with: what it knows of it, and what is true.
type bench struct {
	ohm         float64
	tolerance   *float64 // percent
	uncertainty *float64 // ohm, standard
	trueOhm     float64
	addedOhm    float64 // in the pack's lead, between the meter's points: clips that went bad
}

const (
	readAfterS  = 5
	resolutionV = 0.01
	gain        = 1.0023 // the meter reads high by this; it cancels in the result
)

var meter = loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: resolutionV}

// show is a voltage as the meter shows it.
func (d *diary) show(v float64) float64 {
	counts := math.Round((v*gain + 0.003*d.rand.NormFloat64()) / resolutionV)
	return math.Round(counts*resolutionV*100) / 100
}

// state is how a pack comes to a test, and what is written down of it.
type state struct {
	celsius float64 // of the pack
	noted   float64 // kelvin that the thermometer shows above that
	rested  float64 // minute
	fresh   float64 // volt of surface charge that is still there
	empty   float64 // volt that it lacks, as it was not charged
	seconds float64 // when the reading was taken
	silent  bool    // the rest is not written down
}

// usual is a pack that was charged and has rested.
func (d *diary) usual(celsius float64) state {
	return state{celsius: celsius, rested: float64(60 + 15*d.rand.IntN(20)), seconds: readAfterS + 0.3*d.rand.NormFloat64()}
}

// test makes a load test of three readings of a pack that was ready.
func (d *diary) test(p *pack, b bench, celsius float64) journal.Entry {
	return d.write(journal.LoadTest, p.code, d.readings(p, b, d.usual(celsius)))
}

// contact is what bad contacts add on a day and at a reading.
func (d *diary) contact(p *pack) (today func() float64) {
	var list []fault
	for _, f := range p.faults {
		if f.cause == diagnose.ContactOrLead && f.active(d.now) && (f.often >= 1 || d.rand.Float64() < f.often) {
			list = append(list, f)
		}
	}
	return func() float64 {
		sum := 0.0
		for i := range list {
			sum += list[i].ohm * max(0, 1+list[i].rough*d.rand.NormFloat64())
		}
		return sum
	}
}

func (d *diary) readings(p *pack, b bench, s state) loadtest.Test {
	open := p.rest(d.now, s.rested) + s.fresh - s.empty + 0.03*d.rand.NormFloat64()
	t := loadtest.Test{
		Method: loadtest.KnownLoad, LoadOhm: b.ohm, LoadTolerancePct: b.tolerance, LoadUncertaintyOhm: b.uncertainty,
		Meter: meter, ReadAfterS: new(float64(readAfterS)), TemperatureC: new(math.Round(2*(s.celsius+s.noted)) / 2), Charge: loadtest.ChargeFull, RestedMin: new(math.Round(s.rested)),
	}
	if s.silent {
		t.RestedMin = nil
	}
	added := d.contact(p)
	day := 1 + d.repeats*d.rand.NormFloat64()
	// Surface charge sinks as the load is on, and an empty pack gives less: both
	// look like resistance, some 6 to 16 % of it at full and 10 to 40 % near empty
	// (calculated from a published table of a 6.5 Ah cell).
	day *= 1 + 0.15*s.fresh + 0.2*s.empty
	for range 3 {
		r := p.resistance(d.now, s.seconds, s.celsius+0.3*d.rand.NormFloat64())*day + added() + b.addedOhm
		t.OpenV = append(t.OpenV, d.show(open))
		t.LoadedV = append(t.LoadedV, d.show(open/(1+r/b.trueOhm)))
		open -= 0.004
	}
	return t
}

// probe reads a pack with an a.c. instrument, which leaves out the slow part.
func (d *diary) probe(p *pack, celsius float64) {
	r := p.resistance(d.now, 0, celsius) * (1 + 0.002*d.rand.NormFloat64())
	d.write(journal.DirectReading, p.code, loadtest.Direct{
		Method: loadtest.DirectAC, ResistanceOhm: []float64{math.Round(r*1e4) / 1e4}, AccuracyPct: 1, Counts: 3, ResolutionOhm: 0.0001,
		FrequencyHz: new(1000.0), TemperatureC: new(celsius), Charge: loadtest.ChargeFull,
	})
}

// charge writes down a full charge that ends now. After a capacity check it puts
// back what came out, which is known.
func (d *diary) charge(p *pack, purpose journal.ChargePurpose) {
	idle := d.now.Sub(p.chargedAt).Hours() / 24
	put := p.capacityAh * p.holds * 0.3 // after use on the robot, more or less
	var missingAh *float64
	switch {
	case purpose == journal.TopUp && !p.chargedAt.IsZero():
		put = p.capacityAh * p.lostPct(idle) / 100
	default:
		put *= 0.6 + 0.8*d.rand.Float64()
	}
	if d.now.Sub(p.checkedAt) < 7*24*time.Hour {
		put, missingAh = p.outAh, new(math.Round(p.outAh*100)/100)
		p.checkedAt = time.Time{}
	}
	put = math.Round(put*1.1*(1+0.04*d.rand.NormFloat64())*100) / 100
	start := d.now.Add(-time.Duration(put * float64(time.Hour))) // at 1 A
	d.write(journal.Charged, p.code, journal.Charge{
		StartedAt: start.UTC().Format(time.RFC3339), EndedAt: d.now.UTC().Format(time.RFC3339), Purpose: purpose, Charger: "left",
		CurrentA: new(1.0), PutInAh: &put, MissingAh: missingAh, Ended: journal.EndFull,
	})
	p.chargedAt = d.now
}

// capacity is a check by resistor, logged by hand every three minutes and near the
// end every minute: a full pack down to 1.0 V per cell.
func (d *diary) capacity(p *pack, b bench, celsius float64) {
	const stopV, most = 10, 200
	run := journal.Run{
		Purpose: journal.CapacityRun, StartedAt: d.now.UTC().Format(time.RFC3339), Note: "by the resistor, read every three minutes",
		Options: logged.Options{Cells: 10, RatedAh: p.capacityAh, StopV: stopV, LoadOhm: b.ohm, LoadTolerancePct: new(1.0), FromFull: new(true), PackC: new(math.Round(celsius))},
	}
	full := p.capacityAh * p.holds
	r := p.resistance(d.now, 60, celsius+5)
	outAh, atS := 0.0, 0.0
	for len(run.Rows) < most {
		volts := func(outAh float64) float64 { return voltsAt(1-outAh/full) / (1 + r/b.trueOhm) }
		v := volts(outAh)
		run.Rows = append(run.Rows, journal.RunRow{TimeS: atS, Volts: d.show(v)})
		if v < stopV-0.05 {
			break
		}
		steps := 18
		if v < 11.5 {
			steps = 6
		}
		for range steps { // of ten seconds
			outAh += volts(outAh) / b.trueOhm * 10 / 3600
		}
		atS += float64(10 * steps)
	}
	d.write(journal.RunLogged, p.code, run)
	d.now = d.now.Add(time.Duration(atS) * time.Second)
	p.checkedAt, p.outAh = d.now, outAh
}

// wiggle is a wiggle test: the named place moves the reading, the others do not.
func (d *diary) wiggle(p *pack, b bench, bad journal.WigglePlace, ohm float64, note string) {
	w := journal.Wiggle{LoadOhm: b.ohm, Meter: meter, Note: note}
	open := p.rest(d.now, 90)
	r := p.resistance(d.now, readAfterS, 20)
	for _, place := range []journal.WigglePlace{journal.Still, journal.AtConnector, journal.LeadAtConnector, journal.LeadMiddle, journal.AtFuse, journal.LeadAtPack} {
		low := d.show(open / (1 + r/b.trueOhm))
		if place == bad {
			low = d.show(open / (1 + (r+ohm)/b.trueOhm))
		}
		high := max(low, d.show(open/(1+r/b.trueOhm)))
		w.Spots = append(w.Spots, journal.WiggleSpot{Place: place, LowV: low, HighV: high})
		open -= 0.01
	}
	d.write(journal.Wiggled, p.code, w)
}
