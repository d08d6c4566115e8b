package labels

import (
	"testing"
	"time"
	_ "time/tzdata"
)

// A date along a plot stands at that day's midnight there, across shifts as well,
// and at no moment outside.
func TestTicksOfThePlace(t *testing.T) {
	for _, name := range []string{"UTC", "America/Los_Angeles", "Pacific/Auckland", "Europe/Berlin"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		from := time.Date(2026, 10, 20, 21, 0, 0, 0, zone)
		for _, days := range []int{6, 20, 200, 700} {
			to := from.AddDate(0, 0, days)
			list := ticksBetween(from.UnixMilli(), to.UnixMilli(), 9, zone)
			if len(list) < 2 {
				t.Fatalf("%d ticks in %d days", len(list), days)
			}
			for _, tick := range list {
				at := time.UnixMilli(tick.ms).In(zone)
				layout := "2 Jan"
				if days >= 100 {
					layout = "Jan 2006"
				}
				if at.Before(from) || at.After(to) || at.Hour() != 0 || at.Minute() != 0 || at.Format(layout) != tick.words || days >= 100 && at.Day() != 1 {
					t.Errorf("%s: %s stands at %s", name, tick.words, at)
				}
			}
		}
	}
}
