package logged

import (
	"fmt"
	"math"

	"packwright/internal/problem"
)

// Run takes the rows of a log one by one and keeps only sums, a sample and a
// curve: some 200 kB however long the log is, and a few MB for the moment in which
// Finish sorts the slopes. To give up, drop it.
type Run struct {
	o      Options
	pace   pace
	issues issues
	ended  bool

	rows        int
	first, last Row
	before      Row // the row before last
	withAmps    int

	lowest                 Row
	lowestSpike            bool
	belowS, dipS, longestS float64
	dips                   int
	dipping                bool
	oneVoltS               float64
	drift                  moments // volts against time
	iv                     stretches
	sample                 sample
	releases               releases
	flow                   flow
	smallestA, largestA    float64 // as logged, with sign
	stop                   stop
	curve                  curve
}

// NewRun starts a run. Errors are *problem.Error.
func NewRun(o Options) (*Run, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	r := &Run{o: o}
	r.pace = pace{localTime: o.localTime, dayClock: o.dayClock, issues: &r.issues, pass: r.take}
	return r, nil
}

// Add takes a row, in the order of the log. Values that no pack has are counted
// as issues and set aside.
func (r *Run) Add(row Row) {
	finite := math.Abs(row.TimeS) <= 1e15
	possible := math.Abs(row.Volts) <= highestCellV*float64(r.o.Cells) && !(math.Abs(row.Amps) > highestA)
	if !finite || !possible {
		r.issues.add(Impossible, row.Line, func() string {
			return fmt.Sprintf("%g s, %g V, %g A", row.TimeS, row.Volts, row.Amps)
		})
		return
	}
	r.pace.add(row)
}

// take is given the rows in order of time.
func (r *Run) take(row Row, gap bool) {
	if math.IsNaN(row.Amps) && r.o.LoadOhm > 0 {
		row.Amps = row.Volts / r.o.LoadOhm
	} else if !math.IsNaN(row.Amps) {
		r.withAmps++
	}
	r.rows++
	if r.rows == 1 {
		r.first, r.lowest = row, row
	} else {
		r.step(row, gap)
	}
	if row.Volts < r.lowest.Volts {
		r.lowest, r.lowestSpike = row, false
	}
	t := row.TimeS - r.first.TimeS
	r.curve.add(t, row)
	r.drift.add(t, row.Volts)
	if !math.IsNaN(row.Amps) {
		r.smallestA, r.largestA = min(r.smallestA, row.Amps), max(r.largestA, row.Amps)
		r.iv.add(row.Amps, row.Volts)
		r.sample.add(point{t, row.Volts, row.Amps})
		r.releases.add(row, gap, r.pace.typical)
	}
	r.before, r.last = r.last, row
}

// step takes the time between the last row and this one.
func (r *Run) step(row Row, gap bool) {
	if !math.IsNaN(row.Amps) && !math.IsNaN(r.last.Amps) {
		r.stop.add(&r.flow, r.last, row, gap, r.o)
		r.flow.add(r.last, row, gap)
	}
	if !gap {
		dt := row.TimeS - r.last.TimeS
		r.oneVoltS += under(dt, r.last.Volts, row.Volts, float64(r.o.Cells))
		if r.o.BrownoutV > 0 {
			r.dip(under(dt, r.last.Volts, row.Volts, r.o.BrownoutV), row.Volts < r.o.BrownoutV)
		}
	} else {
		r.dipping = false
	}
	if r.rows > 2 && !gap {
		r.lookForSpike(row)
	}
}

// dip counts time below the brown-out voltage; still says that this row is.
func (r *Run) dip(s float64, still bool) {
	if s > 0 && !r.dipping {
		r.dips++
		r.dipS = 0
	}
	r.belowS += s
	r.dipS += s
	r.longestS = max(r.longestS, r.dipS)
	r.dipping = still
}

// spikeShare is how far off both neighbours one row is a spike, of its
// neighbours' volts (chosen, no source).
const spikeShare = 0.1

// lookForSpike judges the last row, now that the next one is known. A change of
// current that fits explains it.
func (r *Run) lookForSpike(next Row) {
	a, m := r.before, r.last
	least := spikeShare * max(math.Abs(a.Volts+next.Volts)/2, 0.1)
	up := m.Volts-a.Volts > least && m.Volts-next.Volts > least
	down := a.Volts-m.Volts > least && next.Volts-m.Volts > least
	if !up && !down {
		return
	}
	dv, da := m.Volts-(a.Volts+next.Volts)/2, m.Amps-(a.Amps+next.Amps)/2
	if math.Abs(da) > math.Abs(dv) { // less than 1 Ω explains it
		return
	}
	if math.IsNaN(da) && math.Abs(dv) < 5*least { // without amps a short sag may be real
		return
	}
	if m.Line == r.lowest.Line && m.TimeS == r.lowest.TimeS {
		r.lowestSpike = true
	}
	r.issues.add(Spike, m.Line, func() string {
		return fmt.Sprintf("%g V between %g V and %g V", m.Volts, a.Volts, next.Volts)
	})
}

// stop watches for the end of a discharge.
type stop struct {
	state int // 0 above, 1 below and not sure yet, 2 sure
	at    Row // the crossing, between rows
	flow  flow
	meanA float64
}

// sureS is how long the voltage stays below the stop voltage until a discharge
// is surely over; a sag of a motor's start is shorter (chosen, no source).
const sureS = 10.0

// add takes a step before it is added to the flow.
func (s *stop) add(f *flow, a, b Row, gap bool, o Options) {
	switch {
	case s.state == 0 && a.Volts >= o.StopV && b.Volts <= o.StopV && a.Volts > b.Volts:
		part := (a.Volts - o.StopV) / (a.Volts - b.Volts)
		s.at = Row{Line: b.Line, TimeS: a.TimeS + part*(b.TimeS-a.TimeS), Volts: o.StopV, Amps: a.Amps + part*(b.Amps-a.Amps)}
		s.flow = *f
		s.flow.add(a, s.at, gap)
		s.meanA, s.state = f.net/max(f.interval, 1e-9), 1
	case s.state == 1 && b.Volts <= o.StopV:
		if b.TimeS-s.at.TimeS >= sureS {
			s.state = 2
		}
	case s.state == 1:
		// It came back. A discharge that was switched off ran at its usual current; a
		// motor's start takes more.
		off := math.Abs(b.Amps) < offShare*math.Abs(s.at.Amps) && math.Abs(s.at.Amps) < 1.5*math.Abs(s.meanA)
		s.state = 0
		if off || o.LoadOhm > 0 {
			s.state = 2
		}
	}
}

// Finish ends the run and says what it shows. Errors are *problem.Error.
func (r *Run) Finish() (Result, error) {
	if !r.ended {
		r.pace.finish()
		r.ended = true
	}
	if r.rows < 2 || r.last.TimeS <= r.first.TimeS {
		return Result{}, problem.New(problem.Invalid, "check the file and how it is read",
			"%d rows can be used: a run needs two at different times", r.rows)
	}
	return r.result(), nil
}

// Analysis reads a file and runs it, chunk by chunk.
type Analysis struct {
	reader *reader
	run    *Run
}

// Open starts to read a file of that format. Errors are *problem.Error.
func Open(f Format, o Options) (*Analysis, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	o.timeUnit, o.localTime, o.dayClock = f.TimeUnit, f.LocalTime, f.TimeUnit == HourMinSec || f.TimeUnit == HourMin
	run, err := NewRun(o)
	if err != nil {
		return nil, err
	}
	return &Analysis{reader: newReader(f, run.o.Cells, &run.issues, run.Add), run: run}, nil
}

// Write takes the next bytes of the file; it never fails.
func (a *Analysis) Write(p []byte) (int, error) {
	a.reader.write(p)
	return len(p), nil
}

// Rows is how many rows were read so far.
func (a *Analysis) Rows() int { return a.reader.readings }

// Finish ends the file. Errors are *problem.Error.
func (a *Analysis) Finish() (Result, error) {
	a.reader.finish()
	return a.run.Finish()
}
