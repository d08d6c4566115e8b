package main

import (
	"fmt"

	"packwright/internal/core"
	"packwright/internal/fleet"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// resistanceCmd is one load test on the command line. All values stay text until
// typed reads them, so that every one takes a unit and a mistake is answered in
// the same words as in the app. Lists are separated by commas and take points;
// single values take a decimal comma as well.
type resistanceCmd struct {
	Open   string `placeholder:"V,…" group:"Readings" help:"Open-circuit voltage, one or more readings."`
	Loaded string `placeholder:"V,…" group:"Readings" help:"Voltage with the load on, paired in order with --open."`
	Load   string `placeholder:"OHM" group:"Readings" help:"Resistance of the load."`

	Current         string `placeholder:"A,…" group:"Instead of --load: measured current" help:"Current read together with --loaded."`
	CurrentAccuracy string `placeholder:"P%+N" group:"Instead of --load: measured current" help:"Accuracy of the current meter: percent of reading + counts."`
	CurrentStep     string `name:"current-resolution" placeholder:"A" group:"Instead of --load: measured current" help:"One count of the current meter."`

	TwoLoads bool   `group:"Instead of --load: two loads" help:"The test was made with two loads (follows from --loaded-1)."`
	Loaded1  string `name:"loaded-1" placeholder:"V,…" group:"Instead of --load: two loads" help:"Voltage on the first, larger resistance."`
	Load1    string `name:"load-1" placeholder:"OHM" group:"Instead of --load: two loads" help:"The first resistance."`
	Loaded2  string `name:"loaded-2" placeholder:"V,…" group:"Instead of --load: two loads" help:"Voltage on the second, smaller resistance."`
	Load2    string `name:"load-2" placeholder:"OHM" group:"Instead of --load: two loads" help:"The second resistance."`

	Meter      string `placeholder:"P%+N" group:"Accuracy" help:"Accuracy of the voltmeter: percent of reading + counts (${meter})."`
	Resolution string `placeholder:"V" group:"Accuracy" help:"One count of the voltmeter (${resolution})."`
	Tolerance  string `name:"load-tolerance" placeholder:"PCT" group:"Accuracy" help:"Tolerance of the load: ± percent, any value within as likely as another."`
	LoadU      string `name:"load-uncertainty" placeholder:"OHM" group:"Accuracy" help:"Standard uncertainty of a load that was measured, instead of --load-tolerance."`
	Tempco     string `name:"load-tempco" placeholder:"PPM" group:"Accuracy" help:"Temperature coefficient of the load: ± ppm per kelvin."`
	Rise       string `name:"load-rise" placeholder:"K" group:"Accuracy" help:"Heating of the load at the reading."`
	Lead       string `placeholder:"OHM" group:"Accuracy" help:"Leads and contacts in series with the load, between the meter's points (0)."`

	ReadAfter   string `placeholder:"S" group:"Circumstances" help:"Seconds from connecting the load to the reading."`
	Temperature string `placeholder:"C" group:"Circumstances" help:"Temperature of the pack."`
	Charge      string `enum:"full,partial,unknown" default:"unknown" group:"Circumstances" help:"How full the pack was: ${enum}."`
	Rested      string `placeholder:"MIN" group:"Circumstances" help:"Minutes since the end of charging."`
	Cells       int    `placeholder:"N" group:"Circumstances" help:"Cells in series (10)."`
	Fuse        string `placeholder:"A" group:"Circumstances" help:"The fuse in the pack's lead."`

	Limit         string `placeholder:"OHM" group:"Decision" help:"Limit for competition (${limit})."`
	PracticeLimit string `placeholder:"OHM" group:"Decision" help:"Limit for practice (from the usual robot: ${practice})."`

	JSON bool `name:"json" help:"Print one JSON object."`
}

func (cmd *resistanceCmd) Run(con *console) error {
	test, options, limits, err := cmd.read()
	if err != nil {
		return err
	}
	result, err := loadtest.Compute(test, options)
	if err != nil {
		return err
	}
	assessed := core.Assessment{Result: result, Decision: judge.DecideTest(test, &result, limits, nil)}
	if cmd.JSON {
		return con.printJSON(assessed)
	}
	return writeAssessment(con.stdout, test, assessed)
}

// read turns the flags into a test as the journal would hold it.
func (cmd *resistanceCmd) read() (loadtest.Test, loadtest.Options, judge.Limits, error) {
	usual := fleet.Defaults()
	var r typed
	test := loadtest.Test{
		Method:             cmd.method(&r),
		OpenV:              r.list("open", cmd.Open, measure.Voltage),
		LoadedV:            r.list("loaded", cmd.Loaded, measure.Voltage),
		LoadOhm:            value(r.one("load", cmd.Load, measure.Resistance), 0),
		LoadTolerancePct:   r.one("load-tolerance", cmd.Tolerance, measure.Percent),
		LoadUncertaintyOhm: r.one("load-uncertainty", cmd.LoadU, measure.Resistance),
		LoadTempcoPpmK:     r.plain("load-tempco", cmd.Tempco),
		LoadRiseK:          r.plain("load-rise", cmd.Rise),
		LeadOhm:            value(r.one("lead", cmd.Lead, measure.Resistance), 0),
		Loaded1V:           r.list("loaded-1", cmd.Loaded1, measure.Voltage),
		Load1Ohm:           value(r.one("load-1", cmd.Load1, measure.Resistance), 0),
		Loaded2V:           r.list("loaded-2", cmd.Loaded2, measure.Voltage),
		Load2Ohm:           value(r.one("load-2", cmd.Load2, measure.Resistance), 0),
		CurrentA:           r.list("current", cmd.Current, measure.Current),
		CurrentResolutionA: r.one("current-resolution", cmd.CurrentStep, measure.Current),
		Meter:              usual.Meter,
		ReadAfterS:         r.one("read-after", cmd.ReadAfter, measure.Seconds),
		TemperatureC:       r.one("temperature", cmd.Temperature, measure.Temperature),
		Charge:             loadtest.Charge(cmd.Charge),
		RestedMin:          r.one("rested", cmd.Rested, measure.Minutes),
	}
	test.Meter.ResolutionV = value(r.one("resolution", cmd.Resolution, measure.Voltage), usual.Meter.ResolutionV)
	if cmd.Meter != "" {
		test.Meter = r.meter("meter", cmd.Meter, test.Meter.ResolutionV)
	}
	if cmd.CurrentAccuracy != "" {
		// The same notation; the resolution is the current meter's own.
		m := r.meter("current-accuracy", cmd.CurrentAccuracy, value(test.CurrentResolutionA, 0.01))
		test.CurrentPct, test.CurrentCounts = &m.ReadingPct, &m.Counts
	}
	limits := usual.Limits
	limits.CompetitionOhm = value(r.one("limit", cmd.Limit, measure.Resistance), limits.CompetitionOhm)
	if p := r.one("practice-limit", cmd.PracticeLimit, measure.Resistance); p != nil {
		limits.PracticeOhm = p
	}
	options := loadtest.Options{Working: true, Cells: cmd.Cells, FuseA: value(r.one("fuse", cmd.Fuse, measure.Current), 0)}
	r.checked(test.Check())
	r.checked(limits.Check())
	return test, options, limits, r.err
}

// method follows from which readings were given. A flag that would not count in
// it is refused: whoever typed it believes that it does.
func (cmd *resistanceCmd) method(r *typed) loadtest.Method {
	twoLoads := cmd.TwoLoads || cmd.Loaded1+cmd.Load1+cmd.Loaded2+cmd.Load2 != ""
	current := !twoLoads && cmd.Current != ""
	idle := func(where, hint string, flags ...given) {
		for _, f := range flags {
			if f.text != "" {
				r.fail(f.flag, "leave it out"+hint, "--%s does not count %s", f.flag, where)
			}
		}
	}
	if twoLoads {
		idle("in a test with two loads", "; such a test takes --loaded-1 --load-1 --loaded-2 --load-2",
			given{"open", cmd.Open}, given{"loaded", cmd.Loaded}, given{"load", cmd.Load}, given{"current", cmd.Current})
	}
	if current {
		idle("beside --current", ", or leave out --current", given{"load", cmd.Load}, given{"load-tolerance", cmd.Tolerance},
			given{"load-uncertainty", cmd.LoadU}, given{"load-tempco", cmd.Tempco}, given{"load-rise", cmd.Rise}, given{"lead", cmd.Lead})
	} else {
		idle("without --current", "", given{"current-accuracy", cmd.CurrentAccuracy}, given{"current-resolution", cmd.CurrentStep})
	}
	if cmd.Rise == "" {
		idle("without --load-rise", ", or add --load-rise", given{"load-tempco", cmd.Tempco})
	}
	if cmd.Tempco == "" {
		idle("without --load-tempco", ", or add --load-tempco", given{"load-rise", cmd.Rise})
	}
	switch {
	case twoLoads && (cmd.Loaded1 == "" || cmd.Load1 == "" || cmd.Loaded2 == "" || cmd.Load2 == ""):
		r.fail("two-loads", "give --loaded-1 --load-1 --loaded-2 --load-2", "a test with two loads needs both voltages and both resistances")
	case !twoLoads && (cmd.Open == "" || cmd.Loaded == "" || !current && cmd.Load == ""):
		r.fail("open", "as in: packwright resistance --open 12.84 --loaded 12.71 --load 10",
			"a load test needs --open, --loaded and --load (or --current)")
	}
	switch {
	case twoLoads:
		return loadtest.TwoLoads
	case current:
		return loadtest.MeasuredCurrent
	}
	return loadtest.KnownLoad
}

// resistanceDefaults are the values the help text names.
func resistanceDefaults() map[string]string {
	usual := fleet.Defaults()
	practice := "unknown"
	if ohm, err := usual.Limits.Robot.MaxResistanceOhm(); err == nil {
		practice = measure.Show(ohm, "Ω")
	}
	return map[string]string{
		"meter":      fmt.Sprintf("%g%%+%g", usual.Meter.ReadingPct, usual.Meter.Counts),
		"resolution": measure.Show(usual.Meter.ResolutionV, "V"),
		"limit":      measure.Show(usual.Limits.CompetitionOhm, "Ω"),
		"practice":   practice,
	}
}
