package place

import "strconv"

// TimeMS reads a date and time as RFC 3339 writes it, 2026-03-14T10:30:00+01:00
// with Z for UTC and any decimals of a second, as unix milliseconds. It is
// here because the standard library's parser is a thirtieth of what the phone
// has to download.
func TimeMS(text string) (ms int64, ok bool) {
	p := digits{rest: text, ok: true}
	year := p.number(4, 0, 9999)
	p.sign('-')
	month := p.number(2, 1, 12)
	p.sign('-')
	day := p.number(2, 1, daysIn(year, month))
	p.sign('T')
	hour := p.number(2, 0, 23)
	p.sign(':')
	minute := p.number(2, 0, 59)
	p.sign(':')
	second := p.number(2, 0, 59)
	milli := p.decimals()
	offset := p.zone()
	if !p.ok || p.rest != "" {
		return 0, false
	}
	minutes := (daysBefore(year, month, day)*24+hour)*60 + minute - offset
	return int64(minutes)*60_000 + int64(second)*1000 + int64(milli), true
}

// digits reads a text from the left; ok turns false at the first thing that
// does not fit and stays so.
type digits struct {
	rest string
	ok   bool
}

func (p *digits) number(width, low, high int) int {
	if !p.ok || len(p.rest) < width {
		p.ok = false
		return low
	}
	n := 0
	for i := range width {
		c := p.rest[i]
		p.ok = p.ok && '0' <= c && c <= '9'
		n = 10*n + int(c-'0')
	}
	p.rest = p.rest[width:]
	p.ok = p.ok && low <= n && n <= high
	return max(low, min(high, n))
}

func (p *digits) next(c byte) bool {
	if !p.ok || p.rest == "" || p.rest[0] != c {
		return false
	}
	p.rest = p.rest[1:]
	return true
}

func (p *digits) sign(c byte) { p.ok = p.next(c) }

// decimals reads the decimals of a second, as milliseconds.
func (p *digits) decimals() int {
	if !p.next('.') {
		return 0
	}
	milli, unit, seen := 0, 100, false
	for p.ok && p.rest != "" && '0' <= p.rest[0] && p.rest[0] <= '9' {
		milli += unit * int(p.rest[0]-'0')
		unit /= 10
		seen = true
		p.rest = p.rest[1:]
	}
	p.ok = p.ok && seen
	return milli
}

// zone reads the offset from UTC, in minutes.
func (p *digits) zone() int {
	if p.next('Z') {
		return 0
	}
	sign := 1
	if !p.next('+') {
		sign = -1
		p.sign('-')
	}
	hour := p.number(2, 0, 23)
	p.sign(':')
	return sign * (60*hour + p.number(2, 0, 59))
}

// DayOf is the number of days from 1970-01-01 to a date of the Gregorian
// calendar; ok is false where there is no such date.
func DayOf(year, month, day int) (days int, ok bool) {
	if month < 1 || month > 12 || day < 1 || day > daysIn(year, month) {
		return 0, false
	}
	return daysBefore(year, month, day), true
}

func daysIn(year, month int) int {
	switch {
	case month == 2 && year%4 == 0 && (year%100 != 0 || year%400 == 0):
		return 29
	case month == 2:
		return 28
	case month == 4 || month == 6 || month == 9 || month == 11:
		return 30
	}
	return 31
}

// daysBefore is the number of days from 1970-01-01 to a date. Years are
// counted from 1 March, so that the leap day is the last of its year.
func daysBefore(year, month, day int) int {
	if month < 3 {
		year, month = year-1, month+12
	}
	era := 365*year + floorDiv(year, 4) - floorDiv(year, 100) + floorDiv(year, 400)
	return era + (153*(month-3)+2)/5 + day - 1 - 719468
}

func floorDiv(a, b int) int {
	if a < 0 {
		return -((b - 1 - a) / b)
	}
	return a / b
}

// TimeText writes unix milliseconds as TimeMS reads them, in UTC. Years are those
// of four digits.
func TimeText(ms int64) string {
	days := floorDiv(int(ms), dayMS)
	left := int(ms) - days*dayMS
	text := dateText(days) + "T" + twoDigits(left/3_600_000) + ":" + twoDigits(left/60_000%60) + ":" + twoDigits(left/1000%60)
	if milli := left % 1000; milli > 0 {
		text += "." + strconv.Itoa(1000 + milli)[1:]
	}
	return text + "Z"
}

// dateText writes the day so many days after 1970-01-01, such as 2026-03-14.
func dateText(days int) string {
	year, month, day := civil(days)
	return twoDigits(year/100) + twoDigits(year%100) + "-" + twoDigits(month) + "-" + twoDigits(day)
}

func twoDigits(n int) string { return strconv.Itoa(100 + n%100)[1:] }

// civil is the date so many days after 1970-01-01, the inverse of daysBefore. Years
// are counted from 1 March; an era has 400 of them.
func civil(days int) (year, month, day int) {
	days += 719_468 // from 0000-03-01
	era := floorDiv(days, 146_097)
	ofEra := days - era*146_097
	yearOfEra := (ofEra - ofEra/1460 + ofEra/36_524 - ofEra/146_096) / 365
	ofYear := ofEra - (365*yearOfEra + yearOfEra/4 - yearOfEra/100)
	shifted := (5*ofYear + 2) / 153
	year, month = yearOfEra+era*400, shifted+3
	if month > 12 {
		year, month = year+1, month-12
	}
	return year, month, ofYear - (153*shifted+2)/5 + 1
}
