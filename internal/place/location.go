package place

import "time"

// Of is the clock of a time zone from 1980, the oldest test that is taken in, to
// 2059. Phones never call it: they know their shifts themselves, as far.
func Of(zone *time.Location) Clock {
	var c Clock
	end := time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)
	for at := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC); at.Before(end); {
		in := at.In(zone)
		_, eastS := in.Zone()
		if east := eastS / 60; len(c) == 0 || c[len(c)-1].EastMin != east {
			c = append(c, Shift{FromMS: at.UnixMilli(), EastMin: east})
		}
		_, until := in.ZoneBounds()
		switch {
		case until.IsZero():
			return c
		case until.After(at):
			at = until
		default:
			at = at.AddDate(0, 0, 1) // on the last day of a leap year the library says that the offset is over
		}
	}
	return c
}
