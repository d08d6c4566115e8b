package main

import (
	"fmt"
	"io"
	"strings"

	"packwright/internal/logged"
	"packwright/internal/measure"
)

// writePreview says how a log was read, so that a wrong guess is seen.
func writePreview(out io.Writer, p logged.Preview) {
	f := p.Format
	heading(out, "How the file was read")
	fmt.Fprintf(out, "  columns separated by %s, decimal %s, readings from line %d\n", nameOf(f.Delimiter), nameOf(f.Decimal), f.FirstRow)
	fmt.Fprintf(out, "  time from %s in %s, volts from %s in %s", columnName(p, f.TimeColumn), f.TimeUnit, columnName(p, f.VoltColumn), f.VoltUnit)
	if f.AmpColumn > 0 {
		fmt.Fprintf(out, ", amps from %s in %s", columnName(p, f.AmpColumn), f.AmpUnit)
	}
	fmt.Fprintln(out)
	writeWarnings(out, "Guessed", p.Doubts)
}

func nameOf(sign string) string {
	switch sign {
	case ",":
		return "comma"
	case ";":
		return "semicolon"
	case "\t":
		return "tab"
	case ".":
		return "point"
	}
	return sign
}

func columnName(p logged.Preview, column int) string {
	if column > len(p.Columns) {
		return fmt.Sprintf("column %d", column)
	}
	return fmt.Sprintf("%q", p.Columns[column-1])
}

// writeLogged tells what a run shows.
func writeLogged(out io.Writer, r logged.Result, o logged.Options) {
	if len(r.Issues) > 0 {
		heading(out, "Rows to look at")
	}
	for _, issue := range r.Issues {
		used := "used"
		if issue.SetAside {
			used = "set aside"
		}
		fmt.Fprintf(out, "  - %s: %d, %s\n", issue.Text, issue.Rows, used)
		for _, first := range issue.First {
			fmt.Fprintf(out, "      line %d: %s\n", first.Line, first.Text)
		}
		if issue.Hint != "" {
			fmt.Fprintf(out, "    %s\n", issue.Hint)
		}
	}
	if len(r.Working) > 0 {
		heading(out, "Working")
		writeWorking(out, r.Working)
	}
	heading(out, "Result")
	fmt.Fprintf(out, "  %d rows over %s, %d set aside\n", r.Rows, seconds(r.DurationS), r.SetAside)
	v := r.Voltage
	fmt.Fprintf(out, "  lowest voltage: %s after %s, line %d\n", measure.ShowDigits(v.LowestV, 4, "V"), seconds(v.LowestAtS), v.LowestLine)
	if o.BrownoutV > 0 {
		fmt.Fprintf(out, "  below brown-out (%s): %s, dips: %d, longest %s\n", measure.Show(o.BrownoutV, "V"), seconds(v.BelowBrownoutS), v.Dips, seconds(v.LongestDipS))
	}
	if c := r.Charge; c != nil {
		fmt.Fprintf(out, "  charge out: %s, energy out: %s\n", showEstimate(c.OutAh, "Ah"), showEstimate(c.OutWh, "Wh"))
	}
	if res := r.Resistance; res != nil {
		for _, e := range []struct {
			method string
			*logged.Estimate
		}{{"robust slope", res.RobustOhm}, {"least squares", res.LeastSquaresOhm}, {"1 s after the load went off", res.ReleaseOhm}} {
			if e.Estimate != nil {
				fmt.Fprintf(out, "  R = %s (%s)\n", showEstimate(*e.Estimate, "Ω"), e.method)
			}
		}
	}
	if k := r.Capacity; k != nil && k.SharePct != nil {
		heading(out, "Verdict")
		fmt.Fprintf(out, "  %s: %s to %s, %s of the rating (good from %s, at its end below %s)\n", strings.ReplaceAll(string(k.Verdict), "-", " "),
			showEstimate(k.OutAh, "Ah"), measure.Show(k.StopV, "V"), showEstimate(*k.SharePct, "%"), measure.ShowPercent(k.GoodPct), measure.ShowPercent(k.EndPct))
	}
	writeWarnings(out, "Warnings", r.Warnings)
}

// showEstimate writes a result with its uncertainty, or says that it has none.
func showEstimate(e logged.Estimate, unit string) string {
	if e.ExpandedUncertainty == nil {
		return measure.Show(e.Value, unit) + ", uncertainty not known"
	}
	return measure.ShowInterval(e.Value, *e.ExpandedUncertainty, unit)
}

func seconds(s float64) string { return measure.ShowDigits(s, 4, "s") }
