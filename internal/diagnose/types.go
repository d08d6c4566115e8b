package diagnose

import (
	"packwright/internal/journal"
	"packwright/internal/place"
	"packwright/internal/trend"
)

// Cause is what may be wrong. The texts are part of the API.
type Cause string

// The causes.
const (
	AgeingCells   Cause = "ageing-cells"
	ContactOrLead Cause = "contact-or-lead"
	LostCell      Cause = "lost-cell"      // or a reversed one
	NotReady      Cause = "not-ready"      // not full, not rested, hot or cold when tested
	SetUp         Cause = "set-up"         // meter, load or leads of a test day
	SelfDischarge Cause = "self-discharge" // higher than the team's setting
	CapacityFade  Cause = "capacity-fade"
)

// Confidence is how sure a finding is, in a word. The texts are part of the API.
type Confidence string

// The words, surest first.
const (
	Plain    Confidence = "plain"    // hardly anything else explains it
	Likely   Confidence = "likely"   //
	Possible Confidence = "possible" // worth a look
)

// Finding is one thing that the history of a pack points to.
type Finding struct {
	Cause      Cause      `json:"cause"`
	Confidence Confidence `json:"confidence"`
	Title      string     `json:"title"`           // a few words: "Lead or contact"
	Evidence   []string   `json:"evidence"`        // sentences with their numbers
	Action     string     `json:"action"`          // what to do next
	Rule       string     `json:"rule"`            // the rule that found it, with its source or "common practice, no source" or "own rule"
	SinceMS    int64      `json:"since_ms"`        // unix ms of the first test that shows it
	Tests      []string   `json:"tests"`           // entry ids that show it
	Past       bool       `json:"past"`            // repaired, or of one test day that later tests overtook
	Cells      int        `json:"cells,omitempty"` // how many are lost; 0 for other causes
}

// NextTest is the test that would tell most.
type NextTest struct {
	Kind string `json:"kind"` // "load-test", "wiggle", "capacity", "rest-voltage", "reference"
	Why  string `json:"why"`
}

// Report is all that is found on one pack.
type Report struct {
	Findings []Finding `json:"findings"`  // most serious first
	NextTest *NextTest `json:"next_test"` // null where nothing is called for
}

// Rules are the team's settings that sources disagree on.
type Rules struct {
	RestMin               float64     // minute of rest before a test
	CapacityGoodPct       float64     // percent of rated
	CapacityEndPct        float64     // percent of rated
	SelfDischargePctMonth float64     // percent of rated in 30 days; more is high
	ChargeFactor          float64     // charge put in over charge missing
	To20C                 bool        // of the trend; diagnosis always looks at 20 °C where temperatures were noted
	ReferencePack         string      // code, or empty
	Clock                 place.Clock // of the place, for dates in sentences
}

// Test is one test with what diagnosis needs of it.
type Test struct {
	trend.Test
	OpenV     *float64 // volt, mean; nil where the method does not tell
	RestedMin *float64 // minute
	// ScatterOhm is the standard deviation of the test's own repeats, and
	// ExplainedOhm what the meter's last digits explain of it; 0 with one reading.
	ScatterOhm, ExplainedOhm float64
	Repeats                  int
	Rig                      string // load, meter and leads in one text: tests with the same text share a set-up
}

// Capacity is one capacity check.
type Capacity struct {
	Entry    string
	AtMS     int64 // unix ms
	SharePct float64
	PlusPct  float64 // expanded uncertainty, 95 %
	Reached  bool    // the stop voltage was reached, from a full pack
}

// Pack is the history of one pack, by time.
type Pack struct {
	Code       string
	Name       string
	Cells      int
	RatedAh    float64
	Retired    bool
	Tests      []Test
	Repairs    []Repair
	Capacities []Capacity
	Wiggles    []Wiggle
	Charges    []Charge
}

// Repair is work after which tests are compared anew.
type Repair struct {
	AtMS int64
	Part journal.RepairPart
}

// Wiggle is a wiggle test and its time.
type Wiggle struct {
	Entry string
	AtMS  int64
	journal.Wiggle
}

// Charge is a charge that ended.
type Charge struct {
	StartMS int64 // unix ms
	AtMS    int64 // unix ms of its end
	Full    bool  // the charger ended it: what is in the pack is known then
	// Stored: the pack was topped up from store, so nothing but self-discharge took
	// anything out since the charge before.
	Stored  bool
	PutInAh *float64 // ampere-hour
}
