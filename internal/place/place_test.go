package place

import (
	"math"
	"slices"
	"testing"
	"time"
	_ "time/tzdata" // a phone's compiler has no zones of its own

	"pgregory.net/rapid"
)

// zones are places that shift in spring, in autumn, by half an hour, by night or in
// the afternoon of UTC, and never.
var zones = []string{"UTC", "Europe/Berlin", "Europe/London", "America/New_York", "America/Los_Angeles", "America/St_Johns", "Pacific/Auckland",
	"Asia/Kolkata", "Australia/Lord_Howe", "Pacific/Chatham", "Africa/Casablanca", "Pacific/Apia", "America/Sao_Paulo"}

func zone(t interface{ Fatal(...any) }, name string) (*time.Location, Clock) {
	l, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	c := Of(l)
	if err := c.Check(); err != nil {
		t.Fatal(err)
	}
	return l, c
}

// moment draws a time, half of them within two days of a shift.
func moment(t *rapid.T, c Clock) int64 {
	if len(c) > 1 && rapid.Bool().Draw(t, "near a shift") {
		shift := rapid.SampledFrom(c[1:]).Draw(t, "shift")
		return shift.FromMS + rapid.Int64Range(-2*dayMS, 2*dayMS).Draw(t, "after it")
	}
	return rapid.Int64Range(315_532_800_000, 2_840_140_800_000-1).Draw(t, "ms") // 1980 to 2059
}

// The standard library is the yardstick, for the day of every moment and for the
// moment of every time that is there once.
func TestAgainstLibrary(t *testing.T) {
	for _, name := range zones {
		t.Run(name, func(t *testing.T) {
			l, c := zone(t, name)
			rapid.Check(t, func(t *rapid.T) {
				ms := moment(t, c)
				want := time.UnixMilli(ms).In(l)
				if c.Date(ms) != want.Format(time.DateOnly) || c.Words(ms) != want.Format("2 Jan 2006") {
					t.Fatalf("%d is %s, %s; want %s", ms, c.Date(ms), c.Words(ms), want)
				}
				if shown := time.UnixMilli(c.shown(ms)).UTC(); shown.Format(time.StampMilli) != want.Format(time.StampMilli) {
					t.Fatalf("%d shows as %s, want %s", ms, shown, want)
				}
				back := c.Moment(c.shown(ms))
				if again := time.UnixMilli(back).In(l); back > ms || again.Format(time.StampMilli) != want.Format(time.StampMilli) {
					t.Fatalf("%s is read as %s", want, again)
				}
				year, month, day := want.Date()
				noon, ok := c.Noon(want.Format(time.DateOnly))
				if !ok || noon != time.Date(year, month, day, 12, 0, 0, 0, l).UnixMilli() {
					t.Fatalf("noon of %s is %d", want, noon)
				}
				n := rapid.IntRange(-400, 400).Draw(t, "days")
				later := c.Later(ms, float64(n))
				if c.DaysBetween(ms, later) != n && name != "Pacific/Apia" { // which left out 30 December 2011
					t.Fatalf("%d days after %s is %s", n, want, time.UnixMilli(later).In(l))
				}
			})
		})
	}
}

// Where clocks are put back a time is there twice, and the first is meant; where they
// are put forward it is not there, and the clock was not put forward.
func TestTimesThatAreThereTwiceOrNever(t *testing.T) {
	for _, c := range []struct{ zone, shown, want string }{
		{"Europe/Berlin", "2026-10-25T01:59:59Z", "2026-10-24T23:59:59Z"},
		{"Europe/Berlin", "2026-10-25T02:00:00Z", "2026-10-25T00:00:00Z"},
		{"Europe/Berlin", "2026-10-25T02:59:59Z", "2026-10-25T00:59:59Z"},
		{"Europe/Berlin", "2026-10-25T03:00:00Z", "2026-10-25T02:00:00Z"},
		{"Europe/Berlin", "2026-03-29T01:59:59Z", "2026-03-29T00:59:59Z"},
		{"Europe/Berlin", "2026-03-29T02:00:00Z", "2026-03-29T01:00:00Z"},
		{"Europe/Berlin", "2026-03-29T02:30:00Z", "2026-03-29T01:30:00Z"},
		{"Europe/Berlin", "2026-03-29T03:00:00Z", "2026-03-29T01:00:00Z"},
		{"America/New_York", "2026-11-01T01:30:00Z", "2026-11-01T05:30:00Z"},
		{"Australia/Lord_Howe", "2026-04-05T01:45:00Z", "2026-04-04T14:45:00Z"}, // back by half an hour at 02:00
		{"Australia/Lord_Howe", "2026-10-04T02:15:00Z", "2026-10-03T15:45:00Z"},
		{"Pacific/Chatham", "2026-09-27T03:00:00Z", "2026-09-26T14:15:00Z"}, // forward at 02:45
	} {
		_, clock := zone(t, c.zone)
		shown, _ := TimeMS(c.shown)
		if got := TimeText(clock.Moment(shown)); got != c.want {
			t.Errorf("%s in %s is %s, want %s", c.shown, c.zone, got, c.want)
		}
	}
}

func TestLater(t *testing.T) {
	_, berlin := zone(t, "Europe/Berlin")
	at := func(text string) int64 {
		ms, ok := TimeMS(text)
		if !ok {
			t.Fatal(text)
		}
		return ms
	}
	for _, c := range []struct {
		from string
		days float64
		want string
	}{
		{"2026-03-28T23:30:00+01:00", 1, "2026-03-29T23:30:00+02:00"},
		{"2026-10-24T23:30:00+02:00", 1, "2026-10-25T23:30:00+01:00"},
		{"2026-10-26T00:30:00+01:00", -2, "2026-10-24T00:30:00+02:00"},
		{"2026-10-24T12:00:00+02:00", 1.5, "2026-10-26T00:00:00+01:00"},
	} {
		if got := berlin.Later(at(c.from), c.days); got != at(c.want) {
			t.Errorf("%g days after %s is %s, want %s", c.days, c.from, TimeText(got), c.want)
		}
	}
}

// Without shifts a clock is UTC, and no time or text at all makes it panic.
func TestUTC(t *testing.T) {
	var utc Clock
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-62_135_596_800_000, 253_402_300_799_999)).Draw(t, "ms")
		utc.Words(ms)
		if utc.Moment(ms) != ms || utc.shown(ms) != ms || utc.Later(ms, 0) != ms {
			t.Fatalf("%d moved", ms)
		}
		if ms >= -62_135_596_800_000 && ms <= 253_402_300_799_999 && utc.Date(ms) != TimeText(ms)[:len("2026-03-14")] {
			t.Fatalf("%d is on %s", ms, utc.Date(ms))
		}
		utc.Noon(rapid.String().Draw(t, "text"))
	})
	for _, text := range []string{"", "2026-02-29", "26-03-14", "2026-03-14T10:30:00Z", "2026-03-14T00:00:00Z#"} {
		if _, ok := utc.Noon(text); ok {
			t.Errorf("%q is a day", text)
		}
	}
}

func TestCheck(t *testing.T) {
	for _, bad := range []Clock{
		{{FromMS: 1, EastMin: 60}, {FromMS: 1, EastMin: 0}},
		{{FromMS: 2, EastMin: 60}, {FromMS: 1, EastMin: 0}},
		{{EastMin: 18*60 + 1}}, {{EastMin: -18*60 - 1}}, {{EastMin: math.MinInt}},
		slices.Repeat(Clock{{}}, 1001),
	} {
		if bad.Check() == nil {
			t.Errorf("%v is a clock", bad[:min(len(bad), 3)])
		}
	}
	for _, good := range []Clock{nil, {}, {{EastMin: 18 * 60}}, {{EastMin: -18 * 60}}} {
		if err := good.Check(); err != nil {
			t.Errorf("%v: %v", good, err)
		}
	}
}
