package drive

import (
	"packwright/internal/judge"
	"packwright/internal/loadtest"
)

// Figure is a value with its expanded uncertainty, 95 %, in the unit its field names.
type Figure struct {
	Value float64  `json:"value"`
	Plus  *float64 `json:"plus"` // null where not known
}

// Question is what is asked.
type Question struct {
	PackOhm    float64     // ohm, by a load test of the full pack
	PackStdUnc float64     // ohm, standard; NaN unknown
	DoF        *float64    // degrees of freedom of it; nil infinite
	Cells      int         // in series
	ChargePct  float64     // percent of full, 0 to 100
	Robot      judge.Robot // its RestV is of a full, rested pack
	Working    bool
}

// Answer is what a pack means on the field at one state of charge.
type Answer struct {
	ChargePct float64            `json:"charge_pct"`
	OpenV     Figure             `json:"open_v"`     // volt, before the load
	LoadedV   Figure             `json:"loaded_v"`   // volt at the robot's peak current
	MarginV   Figure             `json:"margin_v"`   // volt above brown-out; below 0 it browns out
	BrownoutA Figure             `json:"brownout_a"` // ampere at which it browns out
	MaxOhm    Figure             `json:"max_ohm"`    // ohm that the robot bears at this state of charge
	Holds     float64            `json:"holds"`      // probability of staying above brown-out at the peak
	Text      string             `json:"text"`       // one sentence for a driver
	Rough     string             `json:"rough"`      // how rough the open-circuit voltage is, and why
	Source    string             `json:"source"`     // of the open-circuit curve
	Working   []loadtest.Step    `json:"working"`
	Warnings  []loadtest.Warning `json:"warnings"`
}
