package logged

import (
	"fmt"
	"math"

	"packwright/internal/place"
)

// Numbers above these are times since 1970: in second that is 2001 and later, and in
// ms 1973; as second the latter would be the year 5138.
const (
	sinceS  = 1e9
	sinceMS = 1e11
)

// setTimes says when the first row was, where rows have a date, and what their times
// are taken for where neither head nor rows name a unit. A log of minutes that is
// read as seconds looks like a pack that is empty at once.
func (p *Preview) setTimes(got []Row, whole bool, heads []string, clock place.Clock) {
	f := &p.Format
	if len(got) == 0 {
		return
	}
	first := got[0].TimeS
	switch since := first > sinceS && f.TimeUnit.seconds() > 0; {
	case f.TimeUnit == ISO || since:
		ms := int64(math.Round(first * 1000))
		if f.TimeUnit == ISO && f.LocalTime {
			ms = clock.Moment(ms)
		}
		p.StartedMS = &ms
		return
	case f.TimeUnit.seconds() == 0 || f.TimeColumn <= len(heads) && readHead(heads[f.TimeColumn-1]).unit[timeQ] != "":
		return
	}
	rows := fmt.Sprintf("%d rows", len(got))
	if !whole {
		rows = "the first " + rows
	}
	p.TimesWithoutUnit = true
	(*doubts)(&p.Doubts).add("time-unit", "choose another unit if that is not how long it took",
		"no unit in the header: times are taken as %s, %s over %s", f.TimeUnit.name(), rows, showTime(got[len(got)-1].TimeS-first))
}

// name is a unit in words.
func (u TimeUnit) name() string {
	switch u {
	case Milliseconds:
		return "milliseconds"
	case Minutes:
		return "minutes"
	case Hours:
		return "hours"
	}
	return "seconds"
}
