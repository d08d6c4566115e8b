package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"packwright/internal/core"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// writeAssessment tells a result and its decision to a person: the working as on
// a blackboard, what limits it, the result, the decision, and what to do next.
func writeAssessment(w io.Writer, test loadtest.Test, a core.Assessment) error {
	out := bufio.NewWriter(w)
	heading(out, "Working")
	writeWorking(out, a.Working)
	heading(out, "What the uncertainty is made of")
	writeBudget(out, a.Budget)

	heading(out, "Result")
	if a.BoundOnly && a.UpperBoundOhm != nil {
		fmt.Fprintf(out, "  R is at most %s (the sag is below what the display shows)\n", measure.Show(*a.UpperBoundOhm, "Ω"))
	} else {
		fmt.Fprintf(out, "  R = %s (95 %%, k = %.2f)\n", measure.ShowInterval(a.ResistanceOhm, a.ExpandedUncertaintyOhm, "Ω"), a.CoverageFactor)
	}
	fmt.Fprintf(out, "  meter: ±(%g %% of reading + %g counts) at %s\n",
		test.Meter.ReadingPct, test.Meter.Counts, measure.Show(test.Meter.ResolutionV, "V"))

	heading(out, "Decision")
	fmt.Fprintf(out, "  %s: %s\n", strings.ReplaceAll(string(a.Outcome), "-", " "), a.Reason)
	if p := a.ProbabilityWithinLimit; p != nil {
		fmt.Fprintf(out, "  probability that R is within %s: %s\n", measure.Show(a.LimitOhm, "Ω"), showProbability(*p))
	}
	writeWarnings(out, "Warnings", a.Warnings)
	if len(a.Next) > 0 {
		heading(out, "Next")
	}
	for i, step := range a.Next {
		fmt.Fprintf(out, "  %d. %s\n", i+1, step)
	}
	fmt.Fprint(out, "\nCaution: the load and its leads get hot enough to burn skin. Touch neither the load nor bare leads;\n"+
		"leave it until it has cooled. Disconnect right after the reading, never short the terminals, and stop\n"+
		"at any heat, smell or swelling of the pack.\n")
	return out.Flush()
}

func heading(w io.Writer, text string) { fmt.Fprintf(w, "\n%s\n", text) }

func writeWorking(w io.Writer, steps []loadtest.Step) {
	for _, s := range steps {
		fmt.Fprintf(w, "  %s\n", s.Label)
		line := s.Formula
		for _, part := range []string{s.Numbers, s.Result} {
			if part != "" && part != line {
				line += " = " + part
			}
		}
		fmt.Fprintf(w, "      %s\n", line)
	}
}

// writeWarnings lists warnings with what helps; nothing where there are none.
func writeWarnings(w io.Writer, title string, warnings []loadtest.Warning) {
	if len(warnings) > 0 {
		heading(w, title)
	}
	for _, warning := range warnings {
		fmt.Fprintf(w, "  - %s\n", warning.Text)
		if warning.Hint != "" {
			fmt.Fprintf(w, "    %s\n", warning.Hint)
		}
	}
}

// writeBudget is the table of JCGM 100 (GUM), annex H: one line for each input.
func writeBudget(w io.Writer, budget []loadtest.BudgetLine) {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(table, "  quantity\tvalue\tstandard uncertainty\tsensitivity\tcontribution\tshare\t  source\n")
	for _, line := range budget {
		fmt.Fprintf(table, "  %s\t%s\t%s\t%s\t%s\t%s\t  %s\n", line.Quantity,
			measure.Show(line.Value, line.Unit), measure.ShowRough(line.StdUnc, line.Unit),
			measure.Show(line.Sensitivity, line.SensitivityUnit()), measure.ShowRough(line.ContributionOhm, "Ω"),
			measure.ShowPercent(line.SharePct), line.Source)
	}
	table.Flush()
}

// showProbability never claims certainty by rounding.
func showProbability(p float64) string {
	switch {
	case p > 0.999:
		return "over 99.9 %"
	case p < 0.001:
		return "under 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*p)
}
