package logged

import (
	"fmt"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // a phone's compiler has no zones of its own

	"packwright/internal/place"
)

// TestTimesWithoutUnit: what such times are taken for is said, with how long the run
// would be, also once a person chose another unit.
func TestTimesWithoutUnit(t *testing.T) {
	table := func(head string) []byte {
		var b strings.Builder
		b.WriteString(head + "\n")
		for i := range 102 {
			fmt.Fprintf(&b, "%d,%.2f\n", i, 12.6-float64(i)/50)
		}
		return []byte(b.String())
	}
	said := func(p Preview) string {
		for _, d := range p.Doubts {
			if d.Code == "time-unit" {
				return d.Text
			}
		}
		return ""
	}
	head := table("time,volts")
	p, err := Look(head, true, 10, nil)
	if want := "no unit in the header: times are taken as seconds, 102 rows over 101 s"; err != nil || said(p) != want || !p.TimesWithoutUnit {
		t.Errorf("%q, want %q, %v", said(p), want, err)
	}
	for unit, want := range map[TimeUnit]string{Minutes: "minutes, 102 rows over 101 min", Hours: "hours, 102 rows over 4 days", Milliseconds: "milliseconds, 102 rows over 0.101 s"} {
		f := p.Format
		f.TimeUnit = unit
		if as, err := LookAs(head, true, 10, f, nil); err != nil || !strings.HasSuffix(said(as), want) || !as.TimesWithoutUnit {
			t.Errorf("%q, want %q, %v", said(as), want, err)
		}
	}
	if p, err := Look(head[:600], false, 10, nil); err != nil || !strings.Contains(said(p), "the first ") {
		t.Errorf("%q, %v", said(p), err)
	}
	for _, named := range []string{"time (min),volts", "t_s,volts", "minutes,volts"} {
		if p, err := Look(table(named), true, 10, nil); err != nil || said(p) != "" || p.TimesWithoutUnit {
			t.Errorf("%s: %q, %v", named, said(p), err)
		}
	}
}

// TestStarted: rows with a date say when the run was, by the clock of the place where
// they have no offset of their own.
func TestStarted(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"2026-11-29 10:00:00":       "2026-11-29T09:00:00Z",
		"2026-07-29 10:00":          "2026-07-29T08:00:00Z",
		"2026-11-29T10:00:00-05:00": "2026-11-29T15:00:00Z",
		"1796000000":                time.Unix(1796000000, 0).UTC().Format(time.RFC3339),
		"1796000000000":             time.Unix(1796000000, 0).UTC().Format(time.RFC3339),
		"10:00:00":                  "",
		"0":                         "",
	} {
		p, err := Look([]byte("time,volts\n"+text+",12.6\n"), true, 10, place.Of(zone))
		got := ""
		if err == nil && p.StartedMS != nil {
			got = place.TimeText(*p.StartedMS)
		}
		if err != nil || got != want {
			t.Errorf("%s: %q, want %q, %v", text, got, want, err)
		}
	}
}
