package loadtest

// Method names how a resistance was obtained. Readings of different methods
// are never mixed in one series: an a.c. value leaves out charge transfer and
// diffusion and lies below a d.c. one.
type Method string

// The methods.
const (
	KnownLoad       Method = "known-load"       // open voltage, then voltage on a resistor of known resistance
	TwoLoads        Method = "two-loads"        // voltage on each of two known resistors
	MeasuredCurrent Method = "measured-current" // open voltage, then voltage and current together
	DirectAC        Method = "direct-ac"        // read from an instrument, a.c. (usually 1 kHz)
	DirectDC        Method = "direct-dc"        // read from an instrument, d.c.
)

// Charge says how full the pack was when tested.
type Charge string

// The states of charge that a volunteer can tell.
const (
	ChargeFull    Charge = "full"
	ChargePartial Charge = "partial"
	ChargeUnknown Charge = "unknown"
)

// Meter is a multimeter's accuracy on the range used: ±(ReadingPct % of the
// reading + Counts × ResolutionV). Both bounds are taken as half-widths of
// rectangular distributions.
type Meter struct {
	ReadingPct  float64 `json:"reading_pct"`  // percent of reading, ≥ 0
	Counts      float64 `json:"counts"`       // last-digit counts, ≥ 0
	ResolutionV float64 `json:"resolution_v"` // volt per count, > 0
}

// Test is the raw record of one load test: what was read and with what. It is
// the body of a load-test entry; results are recomputed from it, so only raw
// readings and circumstances are in it.
//
// Which fields a method needs:
//
//	known-load        OpenV, LoadedV (as many, paired in order), LoadOhm
//	two-loads         Loaded1V, Load1Ohm, Loaded2V, Load2Ohm (paired in order)
//	measured-current  OpenV, LoadedV, CurrentA (as many, paired in order)
type Test struct {
	Method Method `json:"method"`

	OpenV   []float64 `json:"open_v,omitempty"`   // volt, open circuit
	LoadedV []float64 `json:"loaded_v,omitempty"` // volt, on load at the reading second

	LoadOhm            float64  `json:"load_ohm,omitempty"`             // ohm, nominal or measured
	LoadTolerancePct   *float64 `json:"load_tolerance_pct,omitempty"`   // ± percent, rectangular
	LoadUncertaintyOhm *float64 `json:"load_uncertainty_ohm,omitempty"` // ohm, standard uncertainty
	LoadTempcoPpmK     *float64 `json:"load_tempco_ppm_k,omitempty"`    // ± ppm per kelvin
	LoadRiseK          *float64 `json:"load_rise_k,omitempty"`          // kelvin, estimated heating at the reading
	LeadOhm            float64  `json:"lead_ohm,omitempty"`             // ohm in series with the load, between the meter's points
	LeadUncertaintyOhm *float64 `json:"lead_uncertainty_ohm,omitempty"` // ohm, standard uncertainty

	Loaded1V []float64 `json:"loaded_1_v,omitempty"` // volt on the first (larger) load
	Load1Ohm float64   `json:"load_1_ohm,omitempty"` // ohm
	Loaded2V []float64 `json:"loaded_2_v,omitempty"` // volt on the second (smaller) load
	Load2Ohm float64   `json:"load_2_ohm,omitempty"` // ohm

	CurrentA           []float64 `json:"current_a,omitempty"`            // ampere, read together with LoadedV
	CurrentPct         *float64  `json:"current_pct,omitempty"`          // ± percent of reading of the current meter, rectangular
	CurrentCounts      *float64  `json:"current_counts,omitempty"`       // last-digit counts of the current meter
	CurrentResolutionA *float64  `json:"current_resolution_a,omitempty"` // ampere per count

	Meter Meter `json:"meter"`

	ReadAfterS   *float64 `json:"read_after_s,omitempty"`  // second, from connecting to reading
	TemperatureC *float64 `json:"temperature_c,omitempty"` // °C, of the pack
	Charge       Charge   `json:"charge,omitempty"`
	RestedMin    *float64 `json:"rested_min,omitempty"` // minute, since the end of charging
	TakenAt      string   `json:"taken_at,omitempty"`   // RFC 3339; only where it differs from the entry's own time (typed in from paper)
	Note         string   `json:"note,omitempty"`
	Import       string   `json:"import,omitempty"` // id of the import entry that it came with
}

// Direct is the raw record of a resistance read from an instrument. It is the
// body of a direct-reading entry.
type Direct struct {
	Method        Method    `json:"method"`         // direct-ac or direct-dc
	ResistanceOhm []float64 `json:"resistance_ohm"` // ohm, one or more readings
	AccuracyPct   float64   `json:"accuracy_pct"`   // ± percent of reading, rectangular
	Counts        float64   `json:"counts"`         // last-digit counts
	ResolutionOhm float64   `json:"resolution_ohm"` // ohm per count, > 0
	FrequencyHz   *float64  `json:"frequency_hz,omitempty"`
	OpenV         *float64  `json:"open_v,omitempty"`        // volt
	TemperatureC  *float64  `json:"temperature_c,omitempty"` // °C
	Charge        Charge    `json:"charge,omitempty"`
	RestedMin     *float64  `json:"rested_min,omitempty"` // minute
	TakenAt       string    `json:"taken_at,omitempty"`   // RFC 3339
	Note          string    `json:"note,omitempty"`
	Import        string    `json:"import,omitempty"` // id of the import entry that it came with
}

// Result is what a test says, with its uncertainty and how it was worked out.
type Result struct {
	Method                 Method   `json:"method"`
	ResistanceOhm          float64  `json:"resistance_ohm"`
	StandardUncertaintyOhm float64  `json:"standard_uncertainty_ohm"`
	ExpandedUncertaintyOhm float64  `json:"expanded_uncertainty_ohm"` // 95 %
	CoverageFactor         float64  `json:"coverage_factor"`
	DegreesOfFreedom       *float64 `json:"degrees_of_freedom"` // null where infinite

	// BoundOnly: the sag is below what the display can show; the resistance is
	// only known to be at most UpperBoundOhm.
	BoundOnly     bool     `json:"bound_only"`
	UpperBoundOhm *float64 `json:"upper_bound_ohm,omitempty"`

	Repeats int `json:"repeats"` // readings that went in

	// What the readings come to; null where the method does not tell, as a direct
	// reading of a load, or where the record does not.
	OpenV       *float64 `json:"open_v"`        // volt, mean; null for two loads
	LoadedV     *float64 `json:"loaded_v"`      // volt, mean
	CurrentA    *float64 `json:"current_a"`     // ampere through the load
	SagV        *float64 `json:"sag_v"`         // volt
	LoadPowerW  *float64 `json:"load_power_w"`  // watt in the load
	LoadEnergyJ *float64 `json:"load_energy_j"` // joule in the load up to the reading second; null where that is not known

	Budget   []BudgetLine `json:"budget"`
	Warnings []Warning    `json:"warnings"`
	Working  []Step       `json:"working"` // empty where only the numbers were asked for
}

// BudgetLine is one contribution to the uncertainty (GUM clause 8, table form).
type BudgetLine struct {
	Source           string   `json:"source"`   // in words: "display of the meter, open reading"
	Quantity         string   `json:"quantity"` // symbol: "V0"
	Unit             string   `json:"unit"`
	Value            float64  `json:"value"`
	StdUnc           float64  `json:"standard_uncertainty"`
	Sensitivity      float64  `json:"sensitivity"`        // ∂R/∂quantity, ohm per unit
	ContributionOhm  float64  `json:"contribution_ohm"`   // |sensitivity| × standard uncertainty
	SharePct         float64  `json:"share_pct"`          // of the variance, percent
	DegreesOfFreedom *float64 `json:"degrees_of_freedom"` // null where infinite
}

// Warning is a doubt that travels with a result.
type Warning struct {
	Code string `json:"code"` // stable, for machines: "one-reading", "sag-below-display", …
	Text string `json:"text"`
	Hint string `json:"hint,omitempty"`
}

// Step is one line of the working, as on a blackboard.
type Step struct {
	Label   string `json:"label"`   // "current through the load"
	Formula string `json:"formula"` // "I = V1 / (R_L + r_w)"
	Numbers string `json:"numbers"` // "12.71 V / (10 Ω + 0 Ω)"
	Result  string `json:"result"`  // "1.271 A"
}
