package journal

import (
	"encoding/json"

	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
)

// Version is the newest schema version of entries that this program writes.
// Entries of a newer version are kept and passed on, but not interpreted.
const Version = 1

// Kind names what an entry records. The texts are part of the API.
type Kind string

// The kinds this version interprets; any other is kept and passed on.
const (
	PackAdded      Kind = "pack-added"      // body Profile
	ProfileChanged Kind = "profile-changed" // body Profile, only the fields that change
	LoadTest       Kind = "load-test"       // body loadtest.Test
	DirectReading  Kind = "direct-reading"  // body loadtest.Direct
	Noted          Kind = "note"            // body Note; the pack may be empty: a note on the fleet
	Inspected      Kind = "inspection"      // body Inspection
	FindingClosed  Kind = "finding-closed"  // body FindingClose
	TeamChanged    Kind = "team-changed"    // body Team, only the fields that change; no pack
	Voided         Kind = "voided"          // body Void
	Repaired       Kind = "repair"          // body Repair
	Charged        Kind = "charge"          // body Charge
	RunLogged      Kind = "run"             // body Run
	Wiggled        Kind = "wiggle"          // body Wiggle
	Imported       Kind = "import"          // body Import; no pack
)

// Entry is one thing that happened: made once, never edited.
type Entry struct {
	ID     string          `json:"id"`     // ULID made on the device; its time is the device's raw clock
	V      int             `json:"v"`      // schema version, ≥ 1
	Kind   Kind            `json:"kind"`   //
	Pack   string          `json:"pack"`   // pack code, or empty
	Device string          `json:"device"` // random id of the phone or program
	By     string          `json:"by"`     // initials, may be empty
	HLC    string          `json:"hlc"`    // "<unix ms, 13 digits>-<counter, 4 hex digits>"
	Body   json.RawMessage `json:"body"`
}

// Profile describes a pack. In a profile-changed entry absent fields stay as
// they are; each field is last-writer-wins by HLC.
type Profile struct {
	Name         *string  `json:"name,omitempty"`
	CapacityAh   *float64 `json:"capacity_ah,omitempty"`    // ampere-hour, rated
	Cells        *int     `json:"cells,omitempty"`          // in series
	InService    *string  `json:"in_service,omitempty"`     // date, YYYY-MM-DD
	FuseA        *float64 `json:"fuse_a,omitempty"`         // ampere
	LeadMM2      *float64 `json:"lead_mm2,omitempty"`       // mm², copper cross-section
	LeadLengthMM *float64 `json:"lead_length_mm,omitempty"` // mm, one way
	Connector    *string  `json:"connector,omitempty"`      // its kind in generic words
	Retired      *bool    `json:"retired,omitempty"`        // out of the fleet
	RetiredWhy   *string  `json:"retired_why,omitempty"`    // in words
}

// Note is free text on a pack or on the fleet.
type Note struct {
	Text string `json:"text"`
}

// Finding is what an inspection saw. The texts are part of the API.
type Finding string

// Findings that set a pack aside whatever its resistance, and lesser ones.
const (
	Swollen         Finding = "swollen"
	Leaking         Finding = "leaking"
	Hot             Finding = "hot"
	CutInsulation   Finding = "cut-insulation"
	MeltedConnector Finding = "melted-connector"
	ReversedCell    Finding = "reversed-cell"
	LooseContact    Finding = "loose-contact"
	OtherSafety     Finding = "other-safety" // Text says what
	Sound           Finding = "sound"        // looked at, nothing found
)

// Inspection is one finding on a pack.
type Inspection struct {
	Finding Finding `json:"finding"`
	Text    string  `json:"text,omitempty"`
}

// FindingClose closes an earlier inspection finding.
type FindingClose struct {
	Entry string `json:"entry"` // id of the inspection entry
	Text  string `json:"text"`  // what was done; required
}

// Void takes an earlier entry out of account; it stays in the history. A void
// entry that is itself voided no longer counts: that is how undo works.
type Void struct {
	Entry  string `json:"entry"` // id of the entry
	Reason string `json:"reason,omitempty"`
}

// Team is what a team shares. In an entry absent fields stay as they are; each
// field is last-writer-wins by HLC.
type Team struct {
	Name           *string         `json:"name,omitempty"`
	CompetitionOhm *float64        `json:"competition_ohm,omitempty"`
	PracticeOhm    *float64        `json:"practice_ohm,omitempty"` // 0: derive it from the robot
	Robot          *judge.Robot    `json:"robot,omitempty"`
	Meter          *loadtest.Meter `json:"meter,omitempty"`
	Load           *loadtest.Load  `json:"load,omitempty"`
	ReadAfterS     *float64        `json:"read_after_s,omitempty"` // second
	Repeats        *int            `json:"repeats,omitempty"`      // readings per test
	RestMin        *float64        `json:"rest_min,omitempty"`     // minute of rest after charging before a test
	RetestDays     *float64        `json:"retest_days,omitempty"`  // day, after which a test is called old
	BaseURL        *string         `json:"base_url,omitempty"`     // for labels: "https://pit.local"

	// The season. What sources disagree on is a setting; see package charging and package diagnose.
	EventName             *string  `json:"event_name,omitempty"`               // the next event
	EventDate             *string  `json:"event_date,omitempty"`               // YYYY-MM-DD; empty: none
	WantedPacks           *int     `json:"wanted_packs,omitempty"`             // fit for competition, at the event
	WantedPct             *float64 `json:"wanted_pct,omitempty"`               // percent, how sure of that
	PackPrice             *float64 `json:"pack_price,omitempty"`               // of one new pack; 0 unknown
	Currency              *string  `json:"currency,omitempty"`                 // as it is to be written after the sum
	DeliveryDays          *float64 `json:"delivery_days,omitempty"`            // day, from ordering to a pack that is run in
	To20C                 *bool    `json:"to_20c,omitempty"`                   // trends at 20 °C
	CapacityGoodPct       *float64 `json:"capacity_good_pct,omitempty"`        // percent of rated, at least this is good
	CapacityEndPct        *float64 `json:"capacity_end_pct,omitempty"`         // percent of rated, below it a pack is at its end
	ChargeFactor          *float64 `json:"charge_factor,omitempty"`            // charge put in over charge missing
	SelfDischargePctMonth *float64 `json:"self_discharge_pct_month,omitempty"` // percent of rated in 30 days; more is high
	TopUpDays             *float64 `json:"top_up_days,omitempty"`              // day, stored packs are topped up after
	ConditionDays         *float64 `json:"condition_days,omitempty"`           // day, stored packs are run through a cycle after
	ReferencePack         *string  `json:"reference_pack,omitempty"`           // code of a pack kept to check the set-up; empty: none
}

// RepairPart is what a repair was about. The texts are part of the API.
type RepairPart string

// The parts. All but the last change what a test measures, so they start a new
// baseline.
const (
	RepairLead      RepairPart = "lead"
	RepairConnector RepairPart = "connector"
	RepairFuse      RepairPart = "fuse"
	RepairCells     RepairPart = "cells"
	RepairOther     RepairPart = "other"
)

// Repair is work done on a pack.
type Repair struct {
	Part RepairPart `json:"part"`
	Text string     `json:"text"`          // what was done; required
	Day  string     `json:"day,omitempty"` // YYYY-MM-DD, where it was not today
}

// ChargeEnd is what ended a charge, as the charger said. The texts are part of the API.
type ChargeEnd string

// The ends.
const (
	EndFull    ChargeEnd = "full"    // voltage drop or temperature slope
	EndTimer   ChargeEnd = "timer"   // time or input limit
	EndHot     ChargeEnd = "hot"     // temperature limit
	EndStopped ChargeEnd = "stopped" // by hand
	EndFault   ChargeEnd = "fault"   // an error of the charger
	EndUnknown ChargeEnd = "unknown"
)

// ChargePurpose is why a pack was charged. The texts are part of the API.
type ChargePurpose string

// The purposes.
const (
	ForUse       ChargePurpose = "use"
	TopUp        ChargePurpose = "top-up"       // of a stored pack
	Conditioning ChargePurpose = "conditioning" // slow, with a discharge before it
)

// Charge is one charge of a pack.
type Charge struct {
	StartedAt string        `json:"started_at"`           // RFC 3339
	EndedAt   string        `json:"ended_at,omitempty"`   // RFC 3339; empty: not known
	Purpose   ChargePurpose `json:"purpose"`              //
	Charger   string        `json:"charger,omitempty"`    // its name in the team
	CurrentA  *float64      `json:"current_a,omitempty"`  // ampere
	PutInAh   *float64      `json:"put_in_ah,omitempty"`  // ampere-hour, as the charger showed
	MissingAh *float64      `json:"missing_ah,omitempty"` // ampere-hour taken out before, where known
	Ended     ChargeEnd     `json:"ended"`
	Text      string        `json:"text,omitempty"`
}

// RunPurpose is what a logged run is for. The texts are part of the API.
type RunPurpose string

// The purposes.
const (
	CapacityRun RunPurpose = "capacity" // a full pack down to the stop voltage
	DriveRun    RunPurpose = "drive"    // on the robot
)

// RunRow is one reading of a log kept by hand.
type RunRow struct {
	TimeS float64 `json:"time_s"` // second from connecting the load
	Volts float64 `json:"volts"`
}

// Run is a logged run. One kept by hand has its Rows, and its result is worked
// out from them each time. A file is too long for a journal: its result was
// worked out when it was read, with a curve of CurvePoints at most.
type Run struct {
	Purpose   RunPurpose     `json:"purpose"`
	StartedAt string         `json:"started_at,omitempty"` // RFC 3339; empty: the entry's own time
	Options   logged.Options `json:"options"`
	Rows      []RunRow       `json:"rows,omitempty"`
	File      string         `json:"file,omitempty"` // its name
	Result    *logged.Result `json:"result,omitempty"`
	Note      string         `json:"note,omitempty"`
}

// CurvePoints is the most points of a curve in a Run.
const CurvePoints = 200

// WigglePlace is where a lead is moved. The texts are part of the API.
type WigglePlace string

// The places, in the order in which a person goes through them.
const (
	Still           WigglePlace = "still" // nothing moved: what the others are compared with
	AtConnector     WigglePlace = "connector"
	LeadAtConnector WigglePlace = "lead-at-connector"
	LeadMiddle      WigglePlace = "lead-middle"
	AtFuse          WigglePlace = "fuse"
	LeadAtPack      WigglePlace = "lead-at-pack"
)

// WiggleSpot is what the meter showed at one place.
type WiggleSpot struct {
	Place WigglePlace `json:"place"`
	LowV  float64     `json:"low_v"`  // volt, lowest
	HighV float64     `json:"high_v"` // volt, highest
}

// Wiggle is a wiggle test: the meter on the connector, a load on, the lead
// moved place by place.
type Wiggle struct {
	LoadOhm float64        `json:"load_ohm"` // ohm
	Meter   loadtest.Meter `json:"meter"`
	Spots   []WiggleSpot   `json:"spots"`
	Note    string         `json:"note,omitempty"`
}

// Import names a table of old tests that was read in. Its tests are entries of
// their own that carry its id; voiding it voids them all.
type Import struct {
	File string `json:"file"`
	Rows int    `json:"rows"` // tests made of it
	Text string `json:"text,omitempty"`
}
