package fleet

import (
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
)

// Team is the effective team settings: defaults under what entries changed.
type Team struct {
	Name       string         `json:"name"`
	Limits     judge.Limits   `json:"limits"`
	Meter      loadtest.Meter `json:"meter"`
	Load       loadtest.Load  `json:"load"`
	ReadAfterS float64        `json:"read_after_s"` // second
	Repeats    int            `json:"repeats"`
	RestMin    float64        `json:"rest_min"`    // minute
	RetestDays float64        `json:"retest_days"` // day
	BaseURL    string         `json:"base_url"`    // empty: the address the app was opened from

	EventName             string  `json:"event_name"`
	EventDate             string  `json:"event_date"` // YYYY-MM-DD, or empty
	WantedPacks           int     `json:"wanted_packs"`
	WantedPct             float64 `json:"wanted_pct"`
	PackPrice             float64 `json:"pack_price"` // 0 unknown
	Currency              string  `json:"currency"`
	DeliveryDays          float64 `json:"delivery_days"` // day
	To20C                 bool    `json:"to_20c"`
	CapacityGoodPct       float64 `json:"capacity_good_pct"`
	CapacityEndPct        float64 `json:"capacity_end_pct"`
	ChargeFactor          float64 `json:"charge_factor"`
	SelfDischargePctMonth float64 `json:"self_discharge_pct_month"`
	TopUpDays             float64 `json:"top_up_days"`    // day
	ConditionDays         float64 `json:"condition_days"` // day
	ReferencePack         string  `json:"reference_pack"` // code, or empty
}

// Profile is a pack's effective profile.
type Profile struct {
	Code         string  `json:"code"`
	Name         string  `json:"name"`
	CapacityAh   float64 `json:"capacity_ah"` // ampere-hour, rated
	Cells        int     `json:"cells"`
	InService    string  `json:"in_service"` // YYYY-MM-DD, or empty
	FuseA        float64 `json:"fuse_a"`     // ampere
	LeadMM2      float64 `json:"lead_mm2"`   // mm², 0 unknown
	LeadLengthMM float64 `json:"lead_length_mm"`
	Connector    string  `json:"connector"`
	Retired      bool    `json:"retired"`
	RetiredWhy   string  `json:"retired_why"`
}

// Overview is the fleet at a glance.
type Overview struct {
	Team        Team     `json:"team"`
	TeamHistory []Change `json:"team_history"` // team settings, newest first, overtaken ones among them
	Packs       []Row    `json:"packs"`        // what needs attention first
	Notes       []Remark `json:"notes"`        // on the fleet, newest first
	Counts      Counts   `json:"counts"`
	Imports     []Import `json:"imports"` // newest first
	Clones      []string `json:"clones"`  // device ids that two phones seem to share, in order
}

// Counts are packs in service by outcome.
type Counts struct {
	Competition int `json:"competition"`
	Practice    int `json:"practice"`
	Retest      int `json:"retest"`
	SetAside    int `json:"set_aside"`
	Untested    int `json:"untested"`
	Retired     int `json:"retired"`
}

// Row is one pack in the overview.
type Row struct {
	Profile
	Outcome       judge.Outcome `json:"outcome"`
	TreatAs       judge.Outcome `json:"treat_as,omitempty"` // of a retest that nothing practical would decide: practice; empty otherwise
	Reason        string        `json:"reason"`
	Attention     string        `json:"attention"`      // why it is this far up, in a few words; empty where nothing
	ResistanceOhm *float64      `json:"resistance_ohm"` // of the latest usable test, an a.c. reading only where there is no other; the upper bound where BoundOnly
	ExpandedOhm   *float64      `json:"expanded_uncertainty_ohm"`
	BoundOnly     bool          `json:"bound_only"`
	TestedMS      *int64        `json:"tested_ms"`   // unix ms of the latest usable test
	LatestTest    string        `json:"latest_test"` // entry id of the latest usable test; empty where there is none
	DaysSinceTest *float64      `json:"days_since_test"`
	TestIDs       []string      `json:"entry_ids"` // every entry of the pack, so that a phone can mark unsent ones
}

// Pack is everything on one pack.
type Pack struct {
	Row
	Decision judge.Decision `json:"decision"`
	Tests    []Test         `json:"tests"`    // newest first, voided ones among them
	Findings []OpenFinding  `json:"findings"` // newest first, closed ones among them
	Notes    []Remark       `json:"notes"`    // newest first
	Repairs  []Repair       `json:"repairs"`  // newest first, voided ones among them, as in all lists
	Charges  []Charge       `json:"charges"`  // newest first, by their start
	Runs     []Run          `json:"runs"`     // newest first, by their start
	Wiggles  []Wiggle       `json:"wiggles"`  // newest first
	History  []Change       `json:"history"`  // profile changes, newest first, overtaken values among them
	Disposal string         `json:"disposal"` // what to do with it at its end; empty where only the fleet was asked
}

// Repair is work done on a pack. A new baseline starts at its AtMS.
type Repair struct {
	Stamp
	Part     journal.RepairPart `json:"part"`
	Text     string             `json:"text"`
	Baseline bool               `json:"baseline"` // it starts a new baseline
}

// Charge is one charge.
type Charge struct {
	Stamp
	journal.Charge
	StartedMS int64  `json:"started_ms"` // unix ms
	EndedMS   *int64 `json:"ended_ms"`   // unix ms; null where not known
}

// Run is a logged run with its result, worked out anew where its rows are here.
type Run struct {
	Stamp
	Purpose   journal.RunPurpose `json:"purpose"`
	StartedMS int64              `json:"started_ms"` // unix ms
	File      string             `json:"file"`
	Note      string             `json:"note"`
	Rows      []journal.RunRow   `json:"rows"`
	Options   logged.Options     `json:"options"`
	Result    *logged.Result     `json:"result"`            // null where it cannot be worked out
	Problem   string             `json:"problem,omitempty"` // why
}

// Wiggle is a wiggle test.
type Wiggle struct {
	Stamp
	journal.Wiggle
}

// Import is a table of old tests that was read in.
type Import struct {
	Stamp
	journal.Import
	Tests int `json:"tests"` // its tests that count
}

// Stamp is where an entry came from.
type Stamp struct {
	Entry    string `json:"entry"` // id
	AtMS     int64  `json:"at_ms"` // unix ms by the device's own clock (or taken_at where given)
	By       string `json:"by"`
	Device   string `json:"device"`
	ClockOff bool   `json:"clock_off"` // the device's clock was plainly wrong
	Voided   bool   `json:"voided"`
	VoidedBy string `json:"voided_by,omitempty"` // id of the voiding entry
	// id of the import that was undone, and this test with it: the voiding entry
	// is then that of the whole table. Empty where the entry was voided by itself.
	VoidedWith string `json:"voided_with,omitempty"`
}

// Test is one test with its recomputed result.
type Test struct {
	Stamp
	Kind     journal.Kind     `json:"kind"`
	Method   loadtest.Method  `json:"method"`
	Test     *loadtest.Test   `json:"test,omitempty"`
	Direct   *loadtest.Direct `json:"direct,omitempty"`
	Result   *loadtest.Result `json:"result"` // nil where it cannot be computed
	Decision judge.Decision   `json:"decision"`
	Problem  string           `json:"problem,omitempty"` // why it cannot be computed
	Alone    string           `json:"alone,omitempty"`   // why its decision is on the resistance alone: "a cell is lost"; empty where it is on the pack
}

// OpenFinding is an inspection finding and whether it still stands.
type OpenFinding struct {
	Stamp
	Finding    journal.Finding `json:"finding"`
	Text       string          `json:"text"`
	Safety     bool            `json:"safety"`
	Closed     bool            `json:"closed"`
	ClosedBy   string          `json:"closed_by,omitempty"` // id of the closing entry
	ClosedText string          `json:"closed_text,omitempty"`
}

// Remark is a note.
type Remark struct {
	Stamp
	Text string `json:"text"`
}

// Change is one field of a profile or of the team's settings, as one entry set it.
type Change struct {
	Stamp
	Field     string `json:"field"` // its JSON name in the entry
	Value     string `json:"value"` // as text; meter, load and robot in words with their units
	Overtaken bool   `json:"overtaken"`
}
