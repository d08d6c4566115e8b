package logged

import (
	"bytes"

	"packwright/internal/place"
)

// TimeUnit says how times are written.
type TimeUnit string

// The ways to write a time.
const (
	Seconds      TimeUnit = "s"
	Milliseconds TimeUnit = "ms"
	Minutes      TimeUnit = "min"
	Hours        TimeUnit = "h"
	HourMinSec   TimeUnit = "h:m:s"
	MinSec       TimeUnit = "m:s"
	HourMin      TimeUnit = "h:m"
	ISO          TimeUnit = "iso" // ISO 8601 date and time, with or without an offset from UTC
)

// seconds is how many seconds a plain number of this unit has, 0 for clocks.
func (u TimeUnit) seconds() float64 {
	switch u {
	case Seconds:
		return 1
	case Milliseconds:
		return 0.001
	case Minutes:
		return 60
	case Hours:
		return 3600
	}
	return 0
}

// timeOf reads a time, in second from any origin.
func (u TimeUnit) timeOf(b []byte, decimal byte) (float64, bool) {
	switch u {
	case Milliseconds:
		v, ok := number(b, decimal)
		return v / 1000, ok
	case Seconds, Minutes, Hours:
		v, ok := number(b, decimal)
		return v * u.seconds(), ok
	case ISO:
		return isoTime(b)
	}
	return clockTime(b, u)
}

// clockTime reads h:m:s, m:s or h:m; the last part may have decimals.
func clockTime(b []byte, u TimeUnit) (float64, bool) {
	sum, parts := 0.0, 0
	for len(b) > 0 {
		part := b
		end := bytes.IndexByte(b, ':')
		if end >= 0 {
			part, b = b[:end], b[end+1:]
			if len(b) == 0 {
				return 0, false
			}
		} else {
			b = nil
		}
		v, ok := unsigned(part, end < 0)
		if !ok || parts > 0 && v >= 60 || parts == 3 {
			return 0, false
		}
		sum = sum*60 + v
		parts++
	}
	switch {
	case u == HourMin && parts == 2:
		return sum * 60, true
	case u == HourMinSec && parts == 3, u == MinSec && parts == 2:
		return sum, true
	}
	return 0, false
}

// unsigned reads digits, with decimals after a point or a comma if allowed.
func unsigned(b []byte, decimals bool) (float64, bool) {
	if len(b) == 0 || b[0] < '0' || b[0] > '9' || len(b) > 20 {
		return 0, false
	}
	for _, c := range b {
		if c == ',' && decimals {
			return number(b, ',')
		}
		if c == 'e' || c == 'E' || c == '.' && !decimals {
			return 0, false
		}
	}
	return number(b, '.')
}

// isoTime reads 2026-11-25T14:03:05.5+01:00; the T may be a space, and seconds
// and offset may be missing. The result is in second since 1970 in UTC, or on
// the local clock where there is no offset.
func isoTime(b []byte) (float64, bool) {
	if len(b) < 16 || b[4] != '-' || b[7] != '-' || b[10] != 'T' && b[10] != 't' && b[10] != ' ' {
		return 0, false
	}
	year, ok1 := digits(b[:4])
	month, ok2 := digits(b[5:7])
	day, ok3 := digits(b[8:10])
	days, exists := place.DayOf(year, month, day)
	if !ok1 || !ok2 || !ok3 || !exists {
		return 0, false
	}
	clock, offset, ok := cutOffset(b[11:])
	if !ok || len(clock) < 5 || clock[2] != ':' {
		return 0, false
	}
	unit := HourMinSec
	if len(clock) == 5 {
		unit = HourMin
	}
	s, ok := clockTime(clock, unit)
	return float64(days)*86400 + s - offset, ok && s < 86401
}

// cutOffset parts the offset from UTC, in second, from a time of day.
func cutOffset(b []byte) (clock []byte, offset float64, ok bool) {
	at := zoneAt(b)
	if at < 0 {
		return b, 0, true
	}
	clock, zone := b[:at], b[at+1:]
	if b[at] == 'Z' || b[at] == 'z' {
		return clock, 0, len(zone) == 0
	}
	hours, minutes := 0, 0
	switch {
	case len(zone) == 2:
		hours, ok = digits(zone)
	case len(zone) == 4:
		hours, ok = digits(zone[:2])
		if ok {
			minutes, ok = digits(zone[2:])
		}
	case len(zone) == 5 && zone[2] == ':':
		hours, ok = digits(zone[:2])
		if ok {
			minutes, ok = digits(zone[3:])
		}
	}
	offset = float64(hours*3600 + minutes*60)
	if b[at] == '-' {
		offset = -offset
	}
	return clock, offset, ok && hours < 24 && minutes < 60
}

// zoneAt is where the offset begins, −1 where there is none.
func zoneAt(b []byte) int {
	for i, c := range b {
		if c == 'Z' || c == 'z' || c == '+' || c == '-' {
			return i
		}
	}
	return -1
}

func hasOffset(b []byte) bool { return len(b) > 16 && zoneAt(b[11:]) >= 0 }

func digits(b []byte) (int, bool) {
	n := 0
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}
