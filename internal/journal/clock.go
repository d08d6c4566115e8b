package journal

import (
	"strconv"

	"packwright/internal/problem"
)

// Stamp is one reading of a hybrid logical clock. Its text form is fixed in
// width, so that texts sort as stamps do.
type Stamp struct {
	MS      int64 // unix ms, the greatest physical time heard of so far
	Counter int   // 0–0xffff, tells events of the same ms apart
}

const (
	maxStampMS = 9_999_999_999_999 // what 13 digits hold: a day in 2286
	maxCounter = 0xffff

	// maxClockMS is the end of 2199. A device's clock beyond it is read as this,
	// which leaves stamps enough room above every clock that can be set wrong.
	maxClockMS = 7_258_118_399_999
)

// ParseStamp reads the text form of a stamp.
func ParseStamp(text string) (Stamp, error) {
	bad := problem.Invalidf("hlc", "", "%q is not a clock stamp of 13 digits, a hyphen and 4 hex digits", short(text))
	if len(text) != 18 || text[13] != '-' {
		return Stamp{}, bad
	}
	for i, c := range []byte(text) {
		digit := c >= '0' && c <= '9'
		hex := i > 13 && c >= 'a' && c <= 'f'
		if i != 13 && !digit && !hex {
			return Stamp{}, bad
		}
	}
	ms, errMS := strconv.ParseInt(text[:13], 10, 64)
	counter, errCounter := strconv.ParseUint(text[14:], 16, 16)
	if errMS != nil || errCounter != nil {
		return Stamp{}, bad
	}
	return Stamp{MS: ms, Counter: int(counter)}, nil
}

// String is the text form: "<unix ms, 13 digits>-<counter, 4 hex digits>".
func (s Stamp) String() string {
	text := make([]byte, 0, 18)
	text = padded(text, strconv.FormatInt(s.MS, 10), 13)
	text = append(text, '-')
	text = padded(text, strconv.FormatInt(int64(s.Counter), 16), 4)
	return string(text)
}

func padded(to []byte, digits string, width int) []byte {
	for range width - len(digits) {
		to = append(to, '0')
	}
	return append(to, digits...)
}

// Compare gives −1, 0 or 1 as s is before, at or after t.
func (s Stamp) Compare(t Stamp) int {
	switch {
	case s.MS < t.MS || (s.MS == t.MS && s.Counter < t.Counter):
		return -1
	case s == t:
		return 0
	}
	return 1
}

// Clock is a hybrid logical clock (Kulkarni, Demirbas, Madeppa, Avva and Leone,
// 2014). Its stamps keep causality: what was written after something was seen
// sorts after it, however wrong the clocks of the devices are. It does not
// repair a slow clock; the raw time of a device stays in the entry's id.
//
// Unlike the paper it refuses no stamp from the future. Such a stamp is
// followed, so that whoever has seen it writes later ones: a device set to 2099
// wins until somebody answers, and not for ever. The zero Clock is ready.
type Clock struct{ last Stamp }

// Tick stamps an event on this device. nowMS is the device's raw clock in unix
// ms; any value will do.
func (c *Clock) Tick(nowMS int64) Stamp {
	if now := clamp(nowMS); now > c.last.MS {
		c.last = Stamp{MS: now}
	} else {
		c.last = c.last.next()
	}
	return c.last
}

// Receive takes note of a stamp from elsewhere and stamps that event.
func (c *Clock) Receive(s Stamp, nowMS int64) Stamp {
	now := clamp(nowMS)
	switch {
	case now > c.last.MS && now > s.MS:
		c.last = Stamp{MS: now}
	case s.Compare(c.last) > 0:
		c.last = s.next()
	default:
		c.last = c.last.next()
	}
	return c.last
}

// next is the least stamp after s. A full counter carries into the
// millisecond. At the very end of the format, which only a forged stamp can
// reach, the stamp stays and ids decide the order.
func (s Stamp) next() Stamp {
	switch {
	case s.Counter < maxCounter:
		s.Counter++
	case s.MS < maxStampMS:
		s = Stamp{MS: s.MS + 1}
	}
	return s
}

func clamp(ms int64) int64 { return min(max(ms, 0), maxClockMS) }
