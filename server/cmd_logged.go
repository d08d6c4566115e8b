package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"packwright/internal/logged"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
)

type loggedCmd struct {
	File string `arg:"" help:"The logger's file. Columns, separators and units are found out, and told."`

	Cells       int    `placeholder:"N" help:"Cells in series (10)."`
	BrownOut    string `placeholder:"V" help:"Voltage below which the controller browns out: how long was it below?"`
	Rating      string `placeholder:"AH" help:"Rated capacity, for the share of it and a verdict."`
	Stop        string `placeholder:"V" help:"The discharge ends here (1.0 V per cell)."`
	Load        string `placeholder:"OHM" help:"Load that was on all the time, where amps were not logged."`
	Tolerance   string `name:"load-tolerance" placeholder:"PCT" help:"Tolerance of --load (5)."`
	VoltPct     string `name:"volt-accuracy" placeholder:"PCT" help:"Accuracy of the volts, ± percent of reading (0.5)."`
	AmpPct      string `name:"current-accuracy" placeholder:"PCT" help:"Accuracy of the amps, ± percent of reading (2)."`
	AmpZero     string `name:"current-zero" placeholder:"A" help:"What the logger may show at no current, ± (1 % of the largest)."`
	TimeUnit    string `name:"time-unit" enum:",s,ms,min,h" default:"" placeholder:"UNIT" help:"Unit of the times, s, ms, min or h (found out; s where the file does not say)."`
	Discharge   string `enum:",positive,negative" default:"" placeholder:"SIGN" help:"Sign of a discharge current, positive or negative (found out)."`
	FromFull    *bool  `negatable:"" help:"The pack was, or was not, full at the start."`
	Temperature string `placeholder:"C" help:"Temperature of the pack at the start."`

	JSON bool `name:"json" help:"Print one JSON object."`
}

func (cmd *loggedCmd) Run(con *console) error {
	var r typed
	o := logged.Options{
		Cells: cmd.Cells, Discharge: cmd.Discharge, FromFull: cmd.FromFull,
		BrownoutV:        value(r.one("brown-out", cmd.BrownOut, measure.Voltage), 0),
		RatedAh:          value(r.one("rating", cmd.Rating, measure.AmpereHours), 0),
		StopV:            value(r.one("stop", cmd.Stop, measure.Voltage), 0),
		LoadOhm:          value(r.one("load", cmd.Load, measure.Resistance), 0),
		LoadTolerancePct: r.one("load-tolerance", cmd.Tolerance, measure.Percent),
		VoltPct:          r.one("volt-accuracy", cmd.VoltPct, measure.Percent),
		AmpPct:           r.one("current-accuracy", cmd.AmpPct, measure.Percent),
		AmpZeroA:         r.one("current-zero", cmd.AmpZero, measure.Current),
		PackC:            r.one("temperature", cmd.Temperature, measure.Temperature),
	}
	if _, err := logged.NewRun(o); r.err == nil {
		r.checked(err)
	}
	if r.err != nil {
		return r.err
	}
	preview, result, err := con.readLog(cmd.File, logged.TimeUnit(cmd.TimeUnit), o)
	if err != nil {
		return err
	}
	if cmd.JSON {
		return con.printJSON(map[string]any{"preview": preview, "result": result})
	}
	out := bufio.NewWriter(con.stdout)
	writePreview(out, preview)
	writeLogged(out, result, o)
	return out.Flush()
}

// readLog reads a log of any size in pieces.
func (con *console) readLog(name string, unit logged.TimeUnit, o logged.Options) (p logged.Preview, result logged.Result, err error) {
	file, err := os.Open(name)
	if err != nil {
		return p, result, problem.New(problem.NotFound, "name the logger's file", "the log cannot be read: %v", err)
	}
	defer file.Close()
	chunk := make([]byte, logged.HeadBytes)
	n, err := io.ReadFull(file, chunk)
	whole := errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
	if err != nil && !whole {
		return p, result, problem.New(problem.NotFound, "name the logger's file", "the log cannot be read: %v", err)
	}
	clock := place.Of(con.now().Location())
	if p, err = logged.Look(chunk[:n], whole, o.Cells, clock); err == nil && unit != "" {
		p.Format.TimeUnit = unit
		p, err = logged.LookAs(chunk[:n], whole, o.Cells, p.Format, clock)
	}
	if err != nil {
		return p, result, err
	}
	run, err := logged.Open(p.Format, o)
	if err != nil {
		return p, result, err
	}
	shows, next := isTerminal(con.stderr), con.now().Add(time.Second)
	for err = nil; err == nil; n, err = file.Read(chunk) {
		run.Write(chunk[:n])
		if con.ctx.Err() != nil {
			return p, result, fmt.Errorf("stopped after %d rows", run.Rows())
		}
		if shows && con.now().After(next) {
			fmt.Fprintf(con.stderr, "\r%s: %d rows read", programName, run.Rows())
			next = con.now().Add(time.Second / 2)
		}
	}
	if shows && run.Rows() > 0 {
		fmt.Fprint(con.stderr, "\r\033[K")
	}
	if !errors.Is(err, io.EOF) {
		return p, result, fmt.Errorf("the log cannot be read to its end: %w", err)
	}
	result, err = run.Finish()
	return p, result, err
}
