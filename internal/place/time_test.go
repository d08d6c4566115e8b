package place

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestTimeMS compares with the standard library's parser of RFC 3339.
func TestTimeMS(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(-62135596800, 253402300799).Draw(t, "s"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns"))
		zone := rapid.IntRange(-23*60, 23*60).Draw(t, "zone")
		text := at.In(time.FixedZone("", 60*zone)).Format(time.RFC3339Nano)
		want, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Skip(text) // a year outside 0 to 9999 in that zone
		}
		if ms, ok := TimeMS(text); !ok || ms != want.UnixMilli() {
			t.Fatalf("%s: %d %t, want %d", text, ms, ok, want.UnixMilli())
		}
	})
	for _, text := range []string{"", "2026-03-14", "2026-03-14T10:30Z", "2026-03-14 10:30:00Z", "2026-13-14T10:30:00Z", "2026-02-29T10:30:00Z", "2026-03-14T24:00:00Z",
		"2026-03-14T10:60:00Z", "2026-03-14T10:30:00", "2026-03-14T10:30:00.Z", "2026-03-14T10:30:00Zulu", "2026-03-14T10:30:00+1:00", "2026-03-14T10:30:00+24:00", "２026-03-14T10:30:00Z"} {
		if _, ok := TimeMS(text); ok {
			t.Errorf("%q was accepted", text)
		}
	}
	for _, text := range []string{"2024-02-29T00:00:00Z", "2000-02-29T23:59:59Z"} {
		if _, ok := TimeMS(text); !ok {
			t.Errorf("%q was refused", text)
		}
	}
	if _, ok := TimeMS("1900-02-29T00:00:00Z"); ok {
		t.Error("1900 was no leap year")
	}
}

// TimeText is the inverse of TimeMS; the standard library is the yardstick.
func TestTimeTextAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.Int64Range(-62_135_596_800_000, 253_402_300_799_999).Draw(t, "ms") // years 1 to 9999
		want := time.UnixMilli(ms).UTC()
		got := TimeText(ms)
		text := want.Format("2006-01-02T15:04:05.000Z")
		if got != strings.Replace(text, ".000Z", "Z", 1) || dateText(floorDiv(int(ms), dayMS)) != want.Format(time.DateOnly) {
			t.Fatalf("%d: %s, want %s", ms, got, text)
		}
		if back, ok := TimeMS(got); !ok || back != ms {
			t.Fatalf("%s is read as %d, %t; want %d", got, back, ok, ms)
		}
	})
}

// DayOf against package time, over leap years and what is no date.
func TestDayOf(t *testing.T) {
	for _, year := range []int{1600, 1900, 1969, 1970, 2000, 2024, 2026, 2100} {
		for month := 0; month <= 13; month++ {
			for day := 0; day <= 32; day++ {
				want := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
				exists := want.Year() == year && int(want.Month()) == month && want.Day() == day
				days, ok := DayOf(year, month, day)
				if ok != exists || ok && int64(days)*86400 != want.Unix() {
					t.Errorf("%d-%d-%d: %d, %t", year, month, day, days, ok)
				}
			}
		}
	}
}
