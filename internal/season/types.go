package season

import (
	"packwright/internal/charging"
	"packwright/internal/diagnose"
	"packwright/internal/drive"
	"packwright/internal/judge"
	"packwright/internal/logged"
	"packwright/internal/stock"
	"packwright/internal/trend"
)

// Health is what the history of one pack says.
type Health struct {
	Code     string          `json:"code"`
	Trend    *trend.Analysis `json:"trend"`    // null where it cannot be worked out
	Problem  string          `json:"problem"`  // why, where Trend is null
	Points   []Point         `json:"points"`   // every test, by time
	Band     []BandPoint     `json:"band"`     // the trend's line and its interval; empty without a line
	Baseline *Baseline       `json:"baseline"` // null before the first comparable test
	Report   diagnose.Report `json:"report"`   //
	Drive    []drive.Answer  `json:"drive"`    // at full charge and below; empty without a result, for a stopped pack and one that was mended and not tested since
	Charging charging.Status `json:"charging"` //
	Capacity *CapacityState  `json:"capacity"` // null without a capacity check
}

// Point is one test as the plot shows it.
type Point struct {
	Test    string  `json:"test"`     // entry id
	AtMS    int64   `json:"at_ms"`    // unix ms
	Ohm     float64 `json:"ohm"`      // as measured
	UsedOhm float64 `json:"used_ohm"` // as the trend took it: at 20 °C where the team asks for that
	PlusOhm float64 `json:"plus_ohm"` // expanded uncertainty, 95 %
	Used    bool    `json:"used"`     // in the series
	Reason  string  `json:"reason"`   // why not
	Flag    string  `json:"flag"`     // "outlier", "step", "unconfirmed", or empty
}

// BandPoint is the trend's line at a moment, with its 95 % interval.
type BandPoint struct {
	AtMS    int64   `json:"at_ms"` // unix ms
	Ohm     float64 `json:"ohm"`
	LowOhm  float64 `json:"low_ohm"`
	HighOhm float64 `json:"high_ohm"`
	Ahead   bool    `json:"ahead"` // after the latest test: a forecast
}

// Baseline is the pack as it was when new, or after its latest repair: its
// first three comparable tests.
type Baseline struct {
	SinceMS   int64    `json:"since_ms"`   // unix ms
	Ohm       float64  `json:"ohm"`        // median
	Tests     []string `json:"tests"`      // entry ids, one to three
	ChangePct *float64 `json:"change_pct"` // of the latest usable test from it
	Text      string   `json:"text"`
}

// CapacityState is the latest capacity check.
type CapacityState struct {
	Entry    string         `json:"entry"`
	AtMS     int64          `json:"at_ms"`
	SharePct float64        `json:"share_pct"` // percent of rated
	PlusPct  float64        `json:"plus_pct"`  // expanded uncertainty, 95 %
	Verdict  logged.Verdict `json:"verdict"`
}

// Board is the fleet over the season.
type Board struct {
	Plan      stock.Plan  `json:"plan"`
	Event     string      `json:"event"`     // name of the team's event, where its day is asked about; or empty
	Take      []Taken     `json:"take"`      // the packs that go to the event, the lowest resistance first
	Rows      []BoardRow  `json:"rows"`      // in order of the overview
	Days      []BoardFind `json:"days"`      // test days on which the set-up was off
	Recycling string      `json:"recycling"` // what to do with packs at their end
}

// Stand is where a pack stands when an event comes.
type Stand string

// Every pack on the board has one of these.
const (
	Goes      Stand = "goes"
	Stays     Stand = "stays"      // at home, or for practice
	TestFirst Stand = "test-first" // its test does not decide, or there is none
	Reference Stand = "reference"  // it rests, and is tested to check the set-up
)

// Taken is a pack that goes to the event.
type Taken struct {
	Code string `json:"code"`
	Name string `json:"name"`
	But  string `json:"but"` // that its test is older than the team wants them; or empty
}

// BoardRow is one pack side by side with the others.
type BoardRow struct {
	Code          string             `json:"code"`
	Name          string             `json:"name"`
	Outcome       judge.Outcome      `json:"outcome"`
	Stand         Stand              `json:"stand"`
	TreatAs       judge.Outcome      `json:"treat_as,omitempty"` // as in fleet.Row
	Ohm           *float64           `json:"ohm"`
	PlusOhm       *float64           `json:"plus_ohm"`
	Trend         trend.Outcome      `json:"trend"`
	SlopePctMonth *float64           `json:"slope_pct_month"` // percent of the line's middle in 30 days, as in the trend's text
	Crossing      *trend.Forecast    `json:"crossing"`
	FitThen       *float64           `json:"fit_then"` // probability on the asked day; null where it was not tested, or mended and not tested since, and for the reference pack, which is not counted
	Drive         *drive.Answer      `json:"drive"`    // at full charge
	Findings      []diagnose.Finding `json:"findings"` // that are not past
	Safety        []string           `json:"safety"`   // open safety findings in words
	Lost          string             `json:"lost"`     // "a cell is lost", plainly or likely; empty otherwise
	First         string             `json:"first"`    // what comes before all else, in a few words: "swollen: do not charge or use it"; empty where nothing does
	CapacityPct   *float64           `json:"capacity_pct"`
}

// BoardFind is a test day on which all packs shifted together.
type BoardFind struct {
	AtMS    int64            `json:"at_ms"`
	Finding diagnose.Finding `json:"finding"`
	Packs   []string         `json:"packs"` // codes
}
