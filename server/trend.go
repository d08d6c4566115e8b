package main

import (
	"fmt"
	"io"
	"time"

	"packwright/internal/measure"
	"packwright/internal/trend"
)

// writeTrend tells all about the trend of one pack.
func writeTrend(out io.Writer, a trend.Analysis) {
	heading(out, "Tests that compare")
	for i, o := range a.Series.Occasions {
		fmt.Fprintf(out, "  %d. %11s  %s", i+1, day(o.AtMS), measure.ShowDigits(o.RawOhm, 4, "Ω"))
		if o.Ohm != o.RawOhm {
			fmt.Fprintf(out, ", at 20 °C %s", measure.ShowDigits(o.Ohm, 4, "Ω"))
		}
		if n := len(o.Tests); n > 1 {
			fmt.Fprintf(out, " (median of %d tests)", n)
		}
		fmt.Fprintln(out)
	}
	if len(a.Series.Aside) > 0 {
		heading(out, "Tests set aside")
	}
	for _, t := range a.Series.Aside {
		fmt.Fprintf(out, "  %11s  %s\n", day(t.AtMS), t.Reason)
	}
	if f := a.Forecast; f != nil {
		heading(out, "Forecast")
		fmt.Fprintf(out, "  above %s at the latest test with %s, by %s with %s; nothing is said beyond that day\n",
			measure.Show(f.LimitOhm, "Ω"), showProbability(f.ProbabilityNow), day(f.HorizonMS), showProbability(f.ProbabilityByHorizon))
		fmt.Fprintln(out, "  without what meter and load are off, which shifts all its tests alike; the board counts that in, so its chances lie nearer to even")
		for _, d := range []struct {
			words string
			ms    *int64
		}{{"earliest (5 %)", f.EarliestMS}, {"likely (50 %)", f.LikelyMS}, {"latest (95 %)", f.LatestMS}} {
			if d.ms != nil {
				fmt.Fprintf(out, "  %s: %s\n", d.words, day(*d.ms))
			}
		}
	}
	if len(a.Working) > 0 {
		heading(out, "Working")
		writeWorking(out, a.Working)
	}
	writeWarnings(out, "Warnings", a.Warnings)
	if len(a.Missing) > 0 {
		heading(out, "What a firmer answer needs")
	}
	for _, text := range a.Missing {
		fmt.Fprintf(out, "  - %s\n", text)
	}
}

func day(ms int64) string { return time.UnixMilli(ms).Format("2 Jan 2006") }
