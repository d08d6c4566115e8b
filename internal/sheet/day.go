package sheet

import (
	"strconv"
	"strings"
	"unicode"

	"packwright/internal/place"
)

// months are the beginnings of their names in English, German, French and
// Spanish without accents; those of June and July in French need four letters.
const months = " jan:1 ene:1 feb:2 fev:2 mar:3 apr:4 avr:4 abr:4 may:5 mai:5 jun:6 juin:6 jul:7 juil:7 aug:8 aou:8 ago:8 sep:9 oct:10 okt:10 nov:11 dec:12 dez:12 dic:12 "

// day is a date as it is written: three numbers in the order of the text.
type day struct {
	part  [3]int
	width [3]int // digits; 0 for a month in letters
	rest  string // time of day and zone
}

// splitDay takes a date off the front of text.
func splitDay(text string) (d day, ok bool) {
	rest := strings.TrimSpace(text)
	if at := strings.IndexFunc(rest, unicode.IsSpace); at > 0 && strings.HasSuffix(rest[:at], ",") { // Tue, 3 Mar 2026
		rest = strings.TrimSpace(rest[at:])
	}
	for i := range d.part {
		end := strings.IndexFunc(rest, func(r rune) bool { return r < '0' || r > '9' })
		if end < 0 {
			end = len(rest)
		}
		if end > 0 {
			if end > 4 {
				return d, false
			}
			d.part[i], _ = strconv.Atoi(rest[:end]) // at most four digits
			d.width[i] = end
		} else if end = strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) }); end != 0 {
			if end < 0 {
				end = len(rest)
			}
			if d.part[i] = monthNamed(plainLetters(rest[:end])); d.part[i] == 0 {
				return d, false
			}
		} else {
			return d, false
		}
		rest = rest[end:]
		if i < 2 {
			trimmed := strings.TrimLeft(rest, "-/. ,")
			if trimmed == rest {
				return d, false
			}
			rest = trimmed
		}
	}
	d.rest = rest
	return d, true
}

func monthNamed(name string) int {
	for _, n := range []int{4, 3} {
		if len(name) < n {
			continue
		}
		if _, found, ok := strings.Cut(months, " "+name[:n]+":"); ok {
			number, _, _ := strings.Cut(found, " ")
			m, _ := strconv.Atoi(number)
			return m
		}
	}
	return 0
}

// order tells how the date must be read, as far as it shows by itself: "ymd",
// "dmy", "mdy", or empty where day and month could be either.
func (d day) order() string {
	switch {
	case d.width[0] == 4:
		return "ymd"
	case d.width[0] == 0:
		return "mdy"
	case d.width[1] == 0 || d.part[0] > 12:
		return "dmy"
	case d.part[1] > 12:
		return "mdy"
	}
	return ""
}

// date reads the three numbers in an order. A year of two digits is of this
// century, and later than 2080 it is not one.
func (d day) date(order string) (year, month, dayOf int, ok bool) {
	if own := d.order(); d.width[0] == 4 || d.width[0] == 0 || d.width[1] == 0 {
		order = own // it leaves no choice
	}
	at := strings.IndexByte(order, 'y')
	year = d.part[at]
	if d.width[at] == 2 && year <= 80 {
		year += 2000
	}
	return year, d.part[strings.IndexByte(order, 'm')], d.part[strings.IndexByte(order, 'd')], d.width[at] != 3
}

// twoDigits writes 7 as 07.
func twoDigits(n int) string {
	if n < 10 {
		return "0" + strconv.Itoa(n)
	}
	return strconv.Itoa(n)
}

// momentOf reads a date with perhaps a time of day, as unix ms. Without a zone of
// its own it is that of the clock; without a time it is noon, and not timed.
func momentOf(text, timeOfDay, order string, clock place.Clock) (ms int64, timed bool, err error) {
	hint := "write it like 2026-11-25 or 2026-11-25 14:30"
	refused := func() (int64, bool, error) {
		return 0, false, bad(TestDate, hint, quoted(text)+" is not a date")
	}
	d, ok := splitDay(text)
	if !ok {
		if n, err := strconv.ParseFloat(text, 64); err == nil && n > 20_000 && n < 80_000 {
			hint = "format the column as a date in the spreadsheet and save it again"
		}
		return refused()
	}
	year, month, dayOf, ok := d.date(order)
	if !ok || year < 1000 || year > 9999 {
		return refused()
	}
	at := strings.TrimLeft(d.rest, "T,. ")
	if at == "" {
		at = strings.TrimSpace(timeOfDay)
	}
	zoned, ok := clockTime(at)
	if !ok {
		return 0, false, bad(TestTime, "write it like 14:30", quoted(at)+" is not a time of day")
	}
	if ms, ok = at1970(year, month, dayOf, zoned, clock); ok {
		return ms, at != "", nil
	}
	if other := d.order(); other != "" && other != order {
		if year, month, dayOf, ok = d.date(other); ok {
			if _, ok = at1970(year, month, dayOf, zoned, clock); ok {
				hint = "choose " + other + " as the order of dates, or correct it"
			}
		}
	}
	return refused()
}

// at1970 is a date and a time of day in unix ms.
func at1970(year, month, dayOf int, time string, clock place.Clock) (ms int64, ok bool) {
	text := strconv.Itoa(year) + "-" + twoDigits(month) + "-" + twoDigits(dayOf) + "T" + time
	if ms, ok = place.TimeMS(text); ok {
		return ms, true // it says its zone
	}
	ms, ok = place.TimeMS(text + "Z")
	return clock.Moment(ms), ok
}

// clockTime writes a time of day as RFC 3339 has it, with its zone where it says one.
func clockTime(text string) (string, bool) {
	if text == "" {
		return "12:00:00", true
	}
	upper := strings.ToUpper(text)
	afternoon := strings.HasSuffix(upper, "PM")
	morning := strings.HasSuffix(upper, "AM")
	if afternoon || morning {
		upper = strings.TrimSpace(upper[:len(upper)-2])
	}
	end := strings.IndexFunc(upper, func(r rune) bool { return r != ':' && r != '.' && (r < '0' || r > '9') })
	own := ""
	if end >= 0 {
		upper, own = strings.TrimSpace(upper[:end]), strings.TrimSpace(upper[end:])
		switch own {
		case "UTC", "GMT":
			own = "Z"
		case "UHR":
			own = ""
		}
	}
	parts := strings.SplitN(upper, ":", 3)
	hour, err := strconv.Atoi(parts[0])
	if err != nil || len(parts) < 2 || len(parts[1]) != 2 || (afternoon || morning) && (hour < 1 || hour > 12) {
		return "", false
	}
	if afternoon || morning {
		hour %= 12
	}
	if afternoon {
		hour += 12
	}
	seconds := "00"
	if len(parts) == 3 {
		seconds = parts[2]
	}
	return twoDigits(hour) + ":" + parts[1] + ":" + seconds + own, true
}

// dateOrder finds the order in which most dates can be read, and says so where
// that had to be guessed. A slash with either order is settled by what would
// lie in the future, and else taken as day before month.
func dateOrder(texts []string, nowMS int64, clock place.Clock) (order, doubt string) {
	votes := map[string]int{}
	var open []day
	example := ""
	for _, text := range texts {
		d, ok := splitDay(text)
		if !ok {
			continue
		}
		if o := d.order(); o != "" {
			votes[o]++
			continue
		}
		if open = append(open, d); example == "" {
			example = text
		}
	}
	best := ""
	for _, o := range []string{"ymd", "dmy", "mdy"} {
		if votes[o] > votes[best] {
			best = o
		}
	}
	if len(open) == 0 {
		return orElse(best, "ymd"), ""
	}
	if votes["dmy"] > 0 && votes["mdy"] > 0 {
		return best, "some dates can only be day before month, others only month before day: look at " + example
	}
	if votes["dmy"] > 0 {
		return "dmy", ""
	}
	if votes["mdy"] > 0 {
		return "mdy", ""
	}
	if strings.Contains(example, ".") {
		return "dmy", "" // points part dates only where the day comes first (common practice, no source)
	}
	dmy, mdy := inFuture(open, "dmy", nowMS, clock), inFuture(open, "mdy", nowMS, clock)
	switch {
	case dmy > 0 && mdy == 0:
		return "mdy", example + " is read as month before day, or some tests would lie in the future: is that right?"
	case mdy > 0 && dmy == 0:
		return "dmy", example + " is read as day before month, or some tests would lie in the future: is that right?"
	}
	return "dmy", example + " could be day before month or month before day: choose which"
}

// inFuture counts the dates that would be later than tomorrow.
func inFuture(days []day, order string, nowMS int64, clock place.Clock) int {
	n := 0
	for _, d := range days {
		year, month, dayOf, ok := d.date(order)
		if !ok {
			continue
		}
		if ms, ok := at1970(year, month, dayOf, "12:00:00", clock); ok && clock.DaysBetween(nowMS, ms) > 1 {
			n++
		}
	}
	return n
}

const dayMS = 24 * 3600 * 1000

func orElse(text, other string) string {
	if text == "" {
		return other
	}
	return text
}
