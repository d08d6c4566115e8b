package loadtest

// Setup is what is about to be used, before anything is connected.
type Setup struct {
	Meter      Meter   `json:"meter"`
	Load       Load    `json:"load"`
	FuseA      float64 `json:"fuse_a"`       // ampere, the fuse in the pack's lead
	OpenV      float64 `json:"open_v"`       // volt, expected open-circuit voltage
	LimitOhm   float64 `json:"limit_ohm"`    // ohm, the limit that has to be decided
	Repeats    int     `json:"repeats"`      // planned readings, ≥ 1
	ReadAfterS float64 `json:"read_after_s"` // second on load at the reading
}

// Load is a power resistor as the team knows it.
type Load struct {
	Name           string   `json:"name,omitempty"`
	Ohm            float64  `json:"ohm"`                       // ohm
	TolerancePct   *float64 `json:"tolerance_pct,omitempty"`   // ± percent, rectangular
	UncertaintyOhm *float64 `json:"uncertainty_ohm,omitempty"` // ohm, standard; where it was measured
	TempcoPpmK     *float64 `json:"tempco_ppm_k,omitempty"`    // ± ppm per kelvin
	LeadOhm        float64  `json:"lead_ohm"`                  // ohm in series, between the meter's points
	RatingW        float64  `json:"rating_w"`                  // watt, on its heat sink; 0 = unknown
	OnHeatSink     bool     `json:"on_heat_sink"`
}

// SetupCheck says whether a set-up is safe and what it can tell.
type SetupCheck struct {
	OK       bool     `json:"ok"` // nothing refused; Warnings may still be there
	CurrentA float64  `json:"current_a"`
	PowerW   float64  `json:"power_w"`
	LongestS *float64 `json:"longest_s"` // second on load the resistor stands; null where the load can stay on
	PauseS   float64  `json:"pause_s"`   // second to wait between readings

	// LoadRiseK is how much the load's case warms until the reading, in kelvin,
	// for the test's own load_rise_k; null where the rating is unknown. It is an
	// estimate, calculated and not measured: all heat stays in the case, of which
	// 30 to 35 g of aluminium stand for a 50 W part.
	LoadRiseK *float64 `json:"load_rise_k"`

	Refusals []Warning `json:"refusals"` // do not connect, and why
	Warnings []Warning `json:"warnings"`

	UAtLimitOhm     float64 `json:"u_at_limit_ohm"`     // expanded uncertainty for a pack at the limit
	ShareOfLimitPct float64 `json:"share_of_limit_pct"` // UAtLimitOhm as percent of the limit
	BestChange      string  `json:"best_change"`        // the one change that helps most, in words; empty where nothing is needed
	Working         []Step  `json:"working"`
}
