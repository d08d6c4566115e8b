package sheet

import (
	"strings"

	"packwright/internal/place"
)

// Moment writes unix ms as a spreadsheet reads it, in UTC: "2026-03-14 10:30:00". Years are those of four digits.
func Moment(ms int64) string {
	day, clock, _ := strings.Cut(place.TimeText(ms), "T")
	return day + " " + strings.TrimSuffix(clock, "Z")
}
