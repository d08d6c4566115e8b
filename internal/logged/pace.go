package logged

import (
	"math"
	"strconv"

	"packwright/internal/measure"
)

// Bounds of the pace (chosen, no source).
const (
	warmRows     = 32  // rows looked at before the first is passed on
	gapIntervals = 5.0 // a gap is longer than this many usual intervals
	hourS        = 3600.0
	dayS         = 86400.0
)

// pace puts rows in order of time and passes them on, telling gaps. A row whose
// time does not fit is held until the next one shows which of the two is right.
type pace struct {
	localTime, dayClock bool
	issues              *issues
	pass                func(r Row, gap bool)

	warm    []Row
	warmed  bool
	typical float64 // usual interval, second; 0 where not known
	recent  [warmRows - 1]float64
	steps   int // intervals put into recent

	moved   float64 // added to times since the clock changed
	last    Row
	started bool
	held    Row
	holds   bool
}

// add takes the next row of the log.
func (p *pace) add(r Row) {
	if p.warmed {
		p.order(r)
		return
	}
	p.warm = append(p.warm, r)
	if len(p.warm) == warmRows {
		p.warmUp()
	}
}

// warmUp learns the usual interval from the first rows and passes them on.
func (p *pace) warmUp() {
	var steps []float64
	for i := 1; i < len(p.warm); i++ {
		if step := p.warm[i].TimeS - p.warm[i-1].TimeS; step > 0 {
			steps = append(steps, step)
		}
	}
	p.typical, p.warmed = median(steps), true
	for _, r := range p.warm {
		p.order(r)
	}
	p.warm = nil
}

// finish passes on what is held.
func (p *pace) finish() {
	if !p.warmed {
		p.warmUp()
	}
	if !p.holds {
		return
	}
	p.holds = false
	if p.held.TimeS > p.last.TimeS {
		p.jump(p.held)
	} else {
		p.slip(p.held)
	}
}

func (p *pace) gapAfter() float64 { return gapIntervals * p.typical }

// order decides about one row; r.TimeS is as logged.
func (p *pace) order(r Row) {
	r.TimeS += p.moved
	if p.holds {
		held := p.held
		p.holds = false
		switch fits := r.TimeS >= p.last.TimeS; {
		case held.TimeS < p.last.TimeS && fits, held.TimeS > p.last.TimeS && fits && r.TimeS < held.TimeS:
			p.slip(held)
		case held.TimeS < p.last.TimeS:
			shift := p.setBack(held)
			r.TimeS += shift
		default:
			shift := p.jump(held)
			r.TimeS += shift
		}
	}
	if step := r.TimeS - p.last.TimeS; p.started && (step < 0 || p.typical > 0 && step > p.gapAfter()) {
		p.held, p.holds = r, true
		return
	}
	p.emit(r, false)
}

// slip sets a row aside.
func (p *pace) slip(r Row) {
	p.issues.add(TimeSlip, r.Line, func() string {
		if by := p.last.TimeS - r.TimeS; by > 0 {
			return "goes back by " + showTime(by)
		}
		return "jumps ahead by " + showTime(r.TimeS-p.last.TimeS) + " for one row"
	})
}

// setBack goes on after a clock that was set back: a new day, the end of daylight saving,
// or by an unknown amount, and then the row is taken as one interval later.
func (p *pace) setBack(r Row) (shift float64) {
	behind := p.last.TimeS - r.TimeS
	within := max(p.gapAfter(), 1)
	why := "by " + showTime(behind)
	switch {
	case p.dayClock && dayS-behind > 0 && dayS-behind <= max(within, hourS):
		shift, why = dayS, "at midnight"
	case p.localTime && hourS-behind >= 0 && hourS-behind <= within:
		shift, why = hourS, "by an hour, as at the end of daylight saving"
	default:
		shift = behind + p.typical
	}
	p.clockChange(r.Line, "the clock went back "+why, shift)
	r.TimeS += shift
	p.emit(r, dayS-behind > within && shift == dayS)
	return shift
}

// jump goes on after a gap, or after an hour that daylight saving left out.
func (p *pace) jump(r Row) (shift float64) {
	step := r.TimeS - p.last.TimeS
	if p.localTime && p.gapAfter() < hourS && math.Abs(step-hourS-p.typical) <= p.typical {
		p.clockChange(r.Line, "the clock went ahead by an hour, as at the start of daylight saving", -hourS)
		r.TimeS -= hourS
		p.emit(r, false)
		return -hourS
	}
	p.issues.add(Gap, r.Line, func() string { return showTime(step) + " without rows before this one" })
	p.emit(r, true)
	return 0
}

func (p *pace) clockChange(line int, text string, shift float64) {
	p.moved += shift
	p.issues.add(ClockChange, line, func() string { return text })
}

// emit passes a row on.
func (p *pace) emit(r Row, gap bool) {
	if p.started {
		switch step := r.TimeS - p.last.TimeS; {
		case step == 0:
			p.issues.add(EqualTimes, r.Line, func() string { return "the time of the row before" })
		case !gap:
			p.recent[p.steps%len(p.recent)] = step
			if p.steps++; p.steps%len(p.recent) == 0 {
				sorted := p.recent
				p.typical = median(sorted[:])
			}
		}
	}
	p.last, p.started = r, true
	p.pass(r, gap)
}

// showTime writes a duration for people.
func showTime(s float64) string {
	switch {
	case s < 120:
		return measure.ShowDigits(s, 3, "s")
	case s < 2*hourS:
		return measure.ShowDigits(s/60, 3, "min")
	case s < 2*dayS:
		return measure.ShowDigits(s/hourS, 3, "h")
	}
	return strconv.FormatFloat(s/dayS, 'f', 0, 64) + " days"
}
