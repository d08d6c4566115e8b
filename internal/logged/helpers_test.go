package logged

import (
	"strconv"
	"time"
)

// isoText writes a time in a zone so many minutes east, by package time.
func isoText(s int64, minutes int) (string, float64) {
	at := time.Unix(s, 500_000_000).In(time.FixedZone("", minutes*60))
	return at.Format("2006-01-02T15:04:05.0-07:00"), float64(s) + 0.5
}

func numberTexts(v float64) []string {
	return []string{strconv.FormatFloat(v, 'f', -1, 64), strconv.FormatFloat(v, 'f', 3, 64), strconv.FormatFloat(v, 'e', 5, 64), strconv.FormatFloat(v, 'f', 25, 64)}
}

func mustParse(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic(err)
	}
	return v
}
