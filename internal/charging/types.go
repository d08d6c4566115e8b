package charging

import "packwright/internal/place"

// Charge is one charge as the record has it.
type Charge struct {
	Entry     string
	StartedMS int64    // unix ms
	EndedMS   *int64   // unix ms
	Purpose   string   // see journal.ChargePurpose
	CurrentA  *float64 // ampere
	PutInAh   *float64 // ampere-hour
	MissingAh *float64 // ampere-hour
	Ended     string   // see journal.ChargeEnd
}

// Check compares what went in with what was expected.
type Check struct {
	Entry      string   `json:"entry"`
	ExpectedAh *float64 `json:"expected_ah"` // null where it cannot be told what was missing
	PutInAh    *float64 `json:"put_in_ah"`
	Verdict    string   `json:"verdict"` // "as-expected", "too-little", "too-much", "not-known"
	Text       string   `json:"text"`    // one sentence with the numbers and what may be the cause
}

// Due is something that a pack will need.
type Due struct {
	Kind  string `json:"kind"`   // "top-up", "conditioning", "test", "capacity"
	DayMS int64  `json:"day_ms"` // unix ms, when it is due
	Over  bool   `json:"over"`   // already
	Text  string `json:"text"`
	Rule  string `json:"rule"` // where the interval comes from
}

// Status is what the charges of a pack come to.
type Status struct {
	Cycles       int      `json:"cycles"`         // charges for use or conditioning
	CyclesByAh   float64  `json:"cycles_by_ah"`   // charge put in over rated capacity, of the charges where it was noted
	NotedAh      int      `json:"noted_ah"`       // charges where it was noted
	LastChargeMS *int64   `json:"last_charge_ms"` // unix ms
	IdleDays     *float64 `json:"idle_days"`      // since the last charge
	LeftPct      *float64 `json:"left_pct"`       // of a full charge, by usual self-discharge; null where not known
	LeftText     string   `json:"left_text"`      // how rough that is
	Checks       []Check  `json:"checks"`         // newest first
	Due          []Due    `json:"due"`            // soonest first
	Nothing      string   `json:"nothing"`        // why nothing is due, where the pack is not to be charged; empty otherwise
}

// Rules are the team's settings; sources disagree on all of them, see the
// package comment. An interval of 0 switches its kind of Due off.
type Rules struct {
	ChargeFactor          float64     // charge put in over charge missing, at 0.3 It to 1 It
	SelfDischargePctMonth float64     // percent in 30 days
	TopUpDays             float64     // day
	ConditionDays         float64     // day
	RetestDays            float64     // day
	Clock                 place.Clock // of the place, by which days are counted
	Nothing               string      // why nothing is due, of a pack that is not to be charged; empty: it may be
}
