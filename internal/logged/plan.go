package logged

import (
	"math"
	"strconv"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// The codes of a plan's refusals, besides those of loadtest.CheckSetup. They
// are part of the API.
const (
	PlanHeats   = "load-not-lasting" // the load stands this power for a short time only
	PlanUnrated = "load-unrated"     // nobody knows whether it does
	PlanLow     = "stop-low"         // a cell may be driven into reversal
)

// nominalCellV is what a cell shows on load for most of a discharge: its
// nominal voltage, by which ratings are told (IEC 61951-2, as quoted in makers'
// data sheets).
const nominalCellV = 1.2

// The standard current of a capacity, in 1/h of it (IEC 61951-2, as quoted in makers'
// data sheets), and shares of it (own rule): faster than fastIt a pack gives plainly
// less, and a load that is farOff by more than this either way is of no use.
const (
	standardIt    = 0.2
	fastIt        = 0.3
	farOff        = 3.0
	standardWords = "which takes a fifth of the capacity per hour"
)

// Plan is a capacity check by resistor, before the load is connected.
type Plan struct {
	CurrentA  float64  `json:"current_a"`  // at the start; it falls with the voltage
	PowerW    float64  `json:"power_w"`    // in the load, at the start
	StopV     float64  `json:"stop_v"`     // the load comes off here
	WatchV    float64  `json:"watch_v"`    // from here down the voltage falls fast: read every minute
	LeastV    float64  `json:"least_v"`    // 1.0 V per cell: off at once
	DurationS *float64 `json:"duration_s"` // about, if the pack holds its rating; null where that is not known
	Options   Options  `json:"options"`    // of the run that follows

	// SuggestOhm is the load of the standard current, where this one is far from it.
	SuggestOhm *float64 `json:"suggest_ohm"`

	Refusals []loadtest.Warning `json:"refusals"` // do not connect, and why
	Warnings []loadtest.Warning `json:"warnings"`
}

// PlanRun says what a capacity check by resistor will do to load and pack, and
// about how long it takes. The load is on for hours, so it must carry its power
// for good. openV is what the full pack shows, in volt, and fuseA the fuse in its
// lead, in ampere, 0 where that is not known. Errors are *problem.Error.
func PlanRun(load loadtest.Load, meter loadtest.Meter, fuseA, openV float64, given Options) (Plan, error) {
	o, err := given.filled()
	if err != nil {
		return Plan{}, err
	}
	// The limit and the reading second bear on a resistance only.
	check, err := loadtest.CheckSetup(loadtest.Setup{Meter: meter, Load: load, FuseA: fuseA, OpenV: openV, LimitOhm: 1, Repeats: 1})
	if err != nil {
		return Plan{}, err
	}
	if o.StopV >= openV {
		return Plan{}, problem.Invalidf("stop_v", "enter the voltage on load at which to stop, such as "+measure.Show(cells.EmptyOnLoadV(o.Cells), "V"),
			"%s is as high as a full pack", measure.Show(o.StopV, "V"))
	}
	p := Plan{
		CurrentA: check.CurrentA, PowerW: check.PowerW, StopV: o.StopV, LeastV: cells.EmptyOnLoadV(o.Cells),
		WatchV: max(cells.TooLowV(o.Cells), o.StopV+cells.TooLowV(o.Cells)-cells.EmptyOnLoadV(o.Cells)),
	}
	refusals := doubts(check.Refusals)
	switch {
	case load.RatingW == 0:
		refusals.add(PlanUnrated, "read the rating off the part and enter it", "the load's rating is not given, and it is on for hours")
	case check.LongestS != nil && len(refusals) == 0:
		refusals.add(PlanHeats, "use a larger part, a larger resistance, or mount it on its heat sink",
			"the load stands %s for %s only, and it is on for hours", measure.ShowRough(p.PowerW, "W"), measure.ShowRough(*check.LongestS, "s"))
	}
	warnings := doubts{}
	for _, w := range check.Warnings {
		if w.Code == loadtest.SetupFuseUnknown {
			warnings = append(warnings, w)
		}
	}
	if o.StopV < p.LeastV {
		refusals.add(PlanLow, "stop at "+measure.Show(p.LeastV, "V")+" or above", "%s is below 1.0 V per cell: a cell may be driven into reversal", measure.Show(o.StopV, "V"))
	}
	if o.RatedAh > 0 {
		meanA := nominalCellV * float64(o.Cells) / (load.Ohm + load.LeadOhm)
		s := math.Round(o.RatedAh*hourS/meanA/60) * 60
		p.DurationS = &s
		it := meanA / o.RatedAh
		standard := nominalCellV * float64(o.Cells) / (standardIt * o.RatedAh)
		if it > fastIt { // as the warning about a finished run
			warnings.add("fast", "use "+measure.ShowRough(standard, "Ω")+" for the standard current",
				"the current is %s times the standard one, "+standardWords+": the pack gives less", measure.ShowRough(it/standardIt, ""))
		}
		if it > farOff*standardIt || it < standardIt/farOff {
			ohm, err := strconv.ParseFloat(strconv.FormatFloat(standard, 'g', 2, 64), 64)
			if err == nil && ohm > 0 {
				p.SuggestOhm = &ohm
			}
		}
	}
	p.Refusals, p.Warnings = refusals, warnings
	p.Options = given.with(load, meter, o.StopV)
	return p, nil
}

// with adds load and meter to the options of a run. A load that was measured has
// a standard uncertainty; the rectangle of that width is √3 times as far to
// either side (JCGM 100, 4.3.7). The meter's digits count most at the lowest
// voltage.
func (o Options) with(load loadtest.Load, meter loadtest.Meter, stopV float64) Options {
	o.StopV = stopV
	o.LoadOhm = load.Ohm + load.LeadOhm
	o.LoadTolerancePct = load.TolerancePct
	if load.UncertaintyOhm != nil {
		pct := 100 * math.Sqrt(3) * *load.UncertaintyOhm / load.Ohm
		o.LoadTolerancePct = &pct
	}
	volt := meter.ReadingPct + 100*meter.Counts*meter.ResolutionV/stopV
	o.VoltPct = &volt
	return o
}
