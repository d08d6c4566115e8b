// Package logged reads a logger's file of a run (time, volts, perhaps amps) and
// says what it shows: charge and energy, the lowest voltage, time below
// brown-out, resistance, and a curve short enough to draw.
//
// Use this first: Look at the first 64 kB of the file, which finds out how it is
// written and gives a preview; then Open an Analysis with that Format, Write
// the file to it in chunks of any size, and Finish. The memory used does not
// grow with the file. A log kept by hand goes row by row into a Run.
//
// Nothing is dropped silently: every row that is not used, and every gap, slip of the
// clock and spike, is counted and the first of each kind are told by line.
//
// Time is in second, current in ampere and positive on discharge once the sign
// is settled. Charge is in ampere-hour, energy in watt-hour.
//
// Published sources: the drive log that package cells names, whose figures the
// tests check against; IEC 61951-2 as quoted in makers' data sheets (20 ± 5 °C,
// 0.2 It to 1.0 V per cell; the text itself was not seen); JCGM 100:2008.
package logged

import (
	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Row is one reading.
type Row struct {
	Line  int     // in the file, from 1; 0 where there is no file
	TimeS float64 // second, from any origin
	Volts float64
	Amps  float64 // NaN where not logged
}

// Options say what was logged and with what. The zero value is a pack of ten
// cells of which nothing else is known.
type Options struct {
	Cells     int     `json:"cells"`                // in series; 0 is the usual 10
	RatedAh   float64 `json:"rated_ah,omitempty"`   // 0 where not known
	StopV     float64 `json:"stop_v,omitempty"`     // the discharge ends here; 0 is 1.0 V per cell
	BrownoutV float64 `json:"brownout_v,omitempty"` // 0 where nobody asks

	// LoadOhm is the resistor that was on all the time, where amps were not
	// logged: I = V / R.
	LoadOhm          float64  `json:"load_ohm,omitempty"`
	LoadTolerancePct *float64 `json:"load_tolerance_pct,omitempty"` // ± percent, rectangular; nil is 5

	VoltPct   *float64 `json:"volt_pct,omitempty"`   // ± percent of reading, rectangular; nil is 0.5
	AmpPct    *float64 `json:"amp_pct,omitempty"`    // ± percent of reading, rectangular; nil is 2
	AmpZeroA  *float64 `json:"amp_zero_a,omitempty"` // ± ampere shown at no current, rectangular; nil is 1 % of the largest current
	Discharge string   `json:"discharge,omitempty"`  // sign of a discharge current: "positive", "negative", or "" to find out
	FromFull  *bool    `json:"from_full,omitempty"`  // whether the pack was full at the start; nil where not said
	GoodPct   float64  `json:"good_pct,omitempty"`   // share of the rating that is good; 0 is 80
	EndPct    float64  `json:"end_pct,omitempty"`    // share below which the pack is at its end; 0 is 60
	PackC     *float64 `json:"pack_c,omitempty"`     // °C at the start

	timeUnit  TimeUnit // that a file was read with; empty where there is no file
	localTime bool     // times are a local clock's, which may change by an hour
	dayClock  bool     // times begin again at midnight
}

// What is assumed where a record does not say (common practice, no source).
// Shares of the rating: sources differ between 60 and 80 %, so both are settings;
// 60 % ends the endurance test of IEC 61951-2 (makers' data sheets), 80 % is usual
// in power use (from memory).
const (
	usualTolerancePct = 5.0
	usualVoltPct      = 0.5
	usualAmpPct       = 2.0
	usualZeroPct      = 1.0 // of the largest current
	usualGoodPct      = 80.0
	usualEndPct       = 60.0
	highestA          = 1000.0 // no such pack gives more
	highestCellV      = 2.0    // no cell shows more, not even one charged in the cold
)

// Check says whether a run can be worked out with these options. Errors are
// *problem.Error.
func (o Options) Check() error {
	_, err := o.filled()
	return err
}

// filled is the options with the usual values in place. Errors are
// *problem.Error.
func (o Options) filled() (Options, error) {
	if o.Cells == 0 {
		o.Cells = cells.Usual
	}
	if o.Cells < cells.Fewest || o.Cells > 1000 {
		return o, problem.Invalidf("cells", "enter the number of cells in series, such as 10", "%d is not a number of cells", o.Cells)
	}
	if o.StopV == 0 {
		o.StopV = cells.EmptyOnLoadV(o.Cells)
	}
	if o.GoodPct == 0 {
		o.GoodPct = usualGoodPct
	}
	if o.EndPct == 0 {
		o.EndPct = min(usualEndPct, o.GoodPct)
	}
	o.LoadTolerancePct = orUsual(o.LoadTolerancePct, usualTolerancePct)
	o.VoltPct = orUsual(o.VoltPct, usualVoltPct)
	o.AmpPct = orUsual(o.AmpPct, usualAmpPct)
	most := float64(o.Cells) * highestCellV
	for _, c := range []struct {
		field, unit string
		value, most float64
	}{
		{"rated_ah", "Ah", o.RatedAh, 1000}, {"stop_v", "V", o.StopV, most}, {"brownout_v", "V", o.BrownoutV, most},
		{"load_ohm", "Ω", o.LoadOhm, 1e6}, {"load_tolerance_pct", "%", *o.LoadTolerancePct, 100}, {"volt_pct", "%", *o.VoltPct, 100},
		{"amp_pct", "%", *o.AmpPct, 100}, {"good_pct", "%", o.GoodPct, 200}, {"end_pct", "%", o.EndPct, o.GoodPct},
	} {
		if !(c.value >= 0 && c.value <= c.most) {
			return o, problem.Invalidf(c.field, "enter 0 to "+measure.Show(c.most, c.unit), "%s is not possible here", measure.Show(c.value, c.unit))
		}
	}
	if o.AmpZeroA != nil && !(*o.AmpZeroA >= 0 && *o.AmpZeroA <= highestA) {
		return o, problem.Invalidf("amp_zero_a", "enter it in ampere, such as 0.05", "%s is not possible here", measure.Show(*o.AmpZeroA, "A"))
	}
	if o.Discharge != "" && o.Discharge != "positive" && o.Discharge != "negative" {
		return o, problem.Invalidf("discharge", "positive, negative or empty", "%q is not a sign", o.Discharge)
	}
	return o, nil
}

func orUsual(p *float64, usual float64) *float64 {
	if p == nil {
		return &usual
	}
	return p
}

// Estimate is a result with its uncertainty, all in the unit that the field's
// name says. Where the log does not tell the uncertainty it is null.
type Estimate struct {
	Value               float64  `json:"value"`
	StandardUncertainty *float64 `json:"standard_uncertainty"`
	ExpandedUncertainty *float64 `json:"expanded_uncertainty"` // 95 %
	Observations        int      `json:"observations"`         // rows, releases or stretches it rests on
}

// Verdict is what the capacity comes to.
type Verdict string

// The verdicts.
const (
	Good       Verdict = "good"        // at least the good share, or surely more though the run ended early
	Worn       Verdict = "worn"        // between the two shares
	AtEnd      Verdict = "at-end"      // below the end share
	Undecided  Verdict = "undecided"   // the uncertainty reaches across a limit
	NotReached Verdict = "not-reached" // the run ended before the stop voltage
	NotPack    Verdict = "not-pack"    // no such pack gives so little or so much: the record is wrong
)

// Result is what a run shows. Fields are null where the log does not tell.
type Result struct {
	Rows             int                `json:"rows"`      // used
	SetAside         int                `json:"set_aside"` // read but not used; each is counted in Issues
	DurationS        float64            `json:"duration_s"`
	TypicalIntervalS float64            `json:"typical_interval_s"`
	Issues           []IssueCount       `json:"issues"`
	HasAmps          bool               `json:"has_amps"`
	SignTurned       bool               `json:"sign_turned"` // discharge was logged as negative
	Voltage          Voltage            `json:"voltage"`
	Charge           *Charge            `json:"charge"`
	Capacity         *Capacity          `json:"capacity"`
	Resistance       *Resistance        `json:"resistance"`
	Curve            []Bucket           `json:"curve"`
	Warnings         []loadtest.Warning `json:"warnings"`
	Working          []loadtest.Step    `json:"working"`
}

// Voltage is what the volts alone tell.
type Voltage struct {
	LowestV        float64 `json:"lowest_v"`
	LowestAtS      float64 `json:"lowest_at_s"` // second from the first row
	LowestLine     int     `json:"lowest_line"`
	LowestIsSpike  bool    `json:"lowest_is_spike"`
	BelowBrownoutS float64 `json:"below_brownout_s"` // second; 0 where no brown-out voltage was given
	Dips           int     `json:"dips"`             // times it went below
	LongestDipS    float64 `json:"longest_dip_s"`
	BelowOneVoltS  float64 `json:"below_one_volt_s"` // second below 1.0 V per cell
}

// Charge is what went through the pack over the whole run.
type Charge struct {
	OutAh    Estimate `json:"out_ah"`
	InAh     Estimate `json:"in_ah"` // put back, by braking or a charger
	OutWh    Estimate `json:"out_wh"`
	InWh     Estimate `json:"in_wh"`
	MeanOutA float64  `json:"mean_out_a"` // out, over the whole run
	LargestA float64  `json:"largest_a"`
	FromLoad bool     `json:"from_load"` // current worked out from volts and the load
	GapS     float64  `json:"gap_s"`     // second without rows, bridged by straight lines
}

// Capacity is the charge down to the stop voltage.
type Capacity struct {
	StopV    float64   `json:"stop_v"`
	Reached  bool      `json:"reached"`
	StopAtS  *float64  `json:"stop_at_s"` // second from the first row
	OutAh    Estimate  `json:"out_ah"`    // to the stop voltage, or to the end
	OutWh    Estimate  `json:"out_wh"`
	SharePct *Estimate `json:"share_pct"` // of the rating
	GoodPct  float64   `json:"good_pct"`
	EndPct   float64   `json:"end_pct"`
	Verdict  Verdict   `json:"verdict,omitempty"` // empty without a rating
	PackC    *float64  `json:"pack_c"`

	NotCounted string `json:"not_counted,omitempty"` // why this is not the pack's capacity; see WhyNotCounted
}

// Resistance is what changes of current tell, each by its own method; the
// methods are never mixed in one trend.
type Resistance struct {
	RobustOhm       *Estimate `json:"robust_ohm"`        // median slope of V against I
	LeastSquaresOhm *Estimate `json:"least_squares_ohm"` // over all rows
	ReleaseOhm      *Estimate `json:"release_ohm"`       // one second after the load went off
	WholeRun        bool      `json:"whole_run"`         // RobustOhm compares rows far apart as well, because few changes were logged
}
