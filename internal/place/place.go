// Package place tells days and times of day as the clocks of one place show them.
//
// Use this first: a Clock, which a phone gives for where it is and Of makes of a
// time.Location. Whatever is counted or named by the day asks it, so that a
// sentence and the screen or paper around it speak of the same day. TimeMS and
// TimeText are for records: RFC 3339, with their offset or in UTC.
//
// There is one way to write a date for people, Clock.Words; tables and files have
// Clock.Date.
package place

import (
	"math"
	"strconv"

	"packwright/internal/problem"
)

const (
	minuteMS = 60_000
	dayMS    = 86_400_000
)

// Shift is an offset from UTC that clocks of a place begin to show.
type Shift struct {
	FromMS  int64 `json:"from_ms"`  // unix ms
	EastMin int   `json:"east_min"` // minutes ahead of UTC
}

// Clock is the clock of one place: its shifts, by time. The first offset counts
// before its shift as well, the last for ever. Without any shift it is UTC.
type Clock []Shift

const (
	mostShifts = 1000    // summer time comes and goes twice a year
	mostMin    = 18 * 60 // beyond every offset there has been
)

// Check refuses what is no clock. Errors are *problem.Error.
func (c Clock) Check() error {
	ok := len(c) <= mostShifts
	for i, s := range c {
		ok = ok && s.EastMin >= -mostMin && s.EastMin <= mostMin && (i == 0 || s.FromMS > c[i-1].FromMS)
	}
	if !ok {
		return problem.New(problem.Invalid, "set the time zone of the phone", "these %d shifts are not those of a clock", len(c))
	}
	return nil
}

// at is the place in c of the shift that counts at a moment; c is not empty.
func (c Clock) at(ms int64) int {
	i := len(c) - 1
	for i > 0 && c[i].FromMS > ms {
		i--
	}
	return i
}

// shown is what the clocks show at a moment, in ms as if in UTC.
func (c Clock) shown(ms int64) int64 {
	if len(c) == 0 {
		return ms
	}
	return ms + int64(c[c.at(ms)].EastMin)*minuteMS
}

// Moment is when the clocks show a date and time, given in ms as if in UTC. A time
// that is there twice, when clocks are put back, is the first of the two. One that
// is not there, when they are put forward, is that of a clock that was not: both as
// browsers have it.
func (c Clock) Moment(shownMS int64) int64 {
	for i := range c {
		ms := shownMS - int64(c[i].EastMin)*minuteMS
		if i+1 < len(c) && ms >= c[i+1].FromMS {
			continue
		}
		if i > 0 && ms < c[i].FromMS {
			return shownMS - int64(c[i-1].EastMin)*minuteMS
		}
		return ms
	}
	return shownMS
}

// Day numbers the days of the place, for comparing and counting them.
func (c Clock) Day(ms int64) int { return floorDiv(int(c.shown(ms)), dayMS) }

// DaysBetween counts the midnights from one moment to another; it is negative
// where the second comes first. The days when clocks change count as any other.
func (c Clock) DaysBetween(fromMS, toMS int64) int { return c.Day(toMS) - c.Day(fromMS) }

// Date is the day of a moment for tables and files: 2026-03-14.
func (c Clock) Date(ms int64) string { return dateText(c.Day(ms)) }

const months = "JanFebMarAprMayJunJulAugSepOctNovDec"

// Words is the day of a moment for people: 14 Mar 2026.
func (c Clock) Words(ms int64) string {
	year, month, day := civil(c.Day(ms))
	return strconv.Itoa(day) + " " + months[3*month-3:3*month] + " " + strconv.Itoa(year)
}

// Noon is the middle of a day written 2026-03-14.
func (c Clock) Noon(date string) (ms int64, ok bool) {
	if len(date) != len("2026-03-14") {
		return 0, false
	}
	shown, ok := TimeMS(date + "T12:00:00Z")
	return c.Moment(shown), ok
}

// Later is so many days after a moment, at the same time by the clocks; what is
// left of a day is added in hours.
func (c Clock) Later(ms int64, days float64) int64 {
	whole := math.Floor(days)
	return c.Moment(c.shown(ms)+int64(whole)*dayMS) + int64(math.Round((days-whole)*dayMS))
}
