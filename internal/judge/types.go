package judge

// Outcome is the decision on a pack. The texts are part of the API.
type Outcome string

// The outcomes, best first.
const (
	Competition Outcome = "competition" // fit for matches that count
	Practice    Outcome = "practice"    // fit for practice only
	Retest      Outcome = "retest"      // not decided
	SetAside    Outcome = "set-aside"   // not to be used
	Untested    Outcome = "untested"    // no usable test yet
)

// Robot is what the pack has to carry.
type Robot struct {
	RestV     float64 `json:"rest_v"`     // volt, open-circuit voltage of a charged, rested pack
	BrownoutV float64 `json:"brownout_v"` // volt, at which the controller browns out
	PeakA     float64 `json:"peak_a"`     // ampere, the peak that must not brown it out
}

// Limits are what a resistance is judged against.
type Limits struct {
	CompetitionOhm float64  `json:"competition_ohm"`        // ohm
	PracticeOhm    *float64 `json:"practice_ohm,omitempty"` // ohm; where nil it is derived from Robot
	Robot          Robot    `json:"robot"`
}

// Decision is an outcome that can be defended.
type Decision struct {
	Outcome                Outcome  `json:"outcome"`
	TreatAs                Outcome  `json:"treat_as,omitempty"`       // of a retest that nothing practical would decide: practice; empty otherwise
	Reason                 string   `json:"reason"`                   // one sentence
	ProbabilityWithinLimit *float64 `json:"probability_within_limit"` // of R ≤ CompetitionOhm (JCGM 106); null where there is no result, a bound only, or an a.c. value, which is not the R of the limit
	LimitOhm               float64  `json:"limit_ohm"`
	PracticeLimitOhm       float64  `json:"practice_limit_ohm"`
	Next                   []string `json:"next"`   // what to do now, most useful first
	Safety                 []string `json:"safety"` // safety findings that overrode the resistance
}
