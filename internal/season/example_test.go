package season_test

import (
	"encoding/json"
	"fmt"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/season"
)

// Three readings of one pack on three days: too few for a trend, and so for a
// forecast, but enough for a baseline.
func ExampleSeason_Health() {
	const noon, day, code = 1_788_264_000_000, 86_400_000, "7K3QXX"
	f := fleet.New()
	var clock journal.Clock
	for i, ohm := range []float64{0.081, 0.079, 0.08} {
		ms := int64(noon + i*day)
		f.Add(journal.Entry{
			ID: journal.NewID(ms, [10]byte{}), V: journal.Version, Kind: journal.DirectReading, Pack: code, Device: "phone-1", HLC: clock.Tick(ms).String(),
			Body: json.RawMessage(fmt.Sprintf(`{"method":"direct-dc","resistance_ohm":[%v],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"charge":"full"}`, ohm)),
		})
	}
	h, err := season.New(f).Health(code, noon+3*day)
	fmt.Println(h.Trend.Text, err)
	fmt.Println(h.Baseline.Text)
	// Output:
	// too few comparable tests for a trend: 3 test days of the 5 it takes <nil>
	// 0.08 Ω, median of the first 3 comparable tests
}
