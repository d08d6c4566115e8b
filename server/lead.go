package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"packwright/internal/measure"
	"packwright/internal/wiring"
)

// writeLead tells a lead's budget and, where the pack was measured, what it means.
func writeLead(out io.Writer, b wiring.Budget, c *wiring.Comparison) {
	working, warnings := b.Working, b.Warnings
	if c != nil {
		working, warnings = c.Working, c.Warnings
	}
	heading(out, "Working")
	writeWorking(out, working)
	heading(out, "The lead, part by part, at "+measure.Show(b.PeakA, "A"))
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(table, "  part\tresistance\tstandard uncertainty\tvolts lost\tshare\t  source\n")
	for _, p := range b.Parts {
		fmt.Fprintf(table, "  %s\t%s\t%s\t%s\t%s\t  %s\n", p.Name, measure.ShowDigits(1000*p.ResistanceOhm, 3, "mΩ"),
			measure.ShowRough(1000*p.StandardUncertaintyOhm, "mΩ"), measure.ShowDigits(p.SagV, 3, "V"), measure.ShowPercent(p.SharePct), p.Source)
	}
	table.Flush()
	heading(out, "Result")
	fmt.Fprintf(out, "  lead: %s (95 %%, k = %.2f), %s lost\n", showMilliohm(b.ResistanceOhm, b.ExpandedUncertaintyOhm), b.CoverageFactor, measure.ShowDigits(b.SagV, 3, "V"))
	if c != nil {
		fmt.Fprintf(out, "  cells: %s, %s of the pack; copper %s, fuse %s, contacts %s\n", showMilliohm(c.CellsOhm, c.CellsPlusOhm),
			measure.ShowPercent(c.CellsPct), measure.ShowPercent(c.CopperPct), measure.ShowPercent(c.FusePct), measure.ShowPercent(c.ContactPct))
		heading(out, "What a change would gain")
		for _, g := range c.Gains {
			fmt.Fprintf(out, "  - %s: %s, %s, pack then %s\n", g.Change, showMilliohm(g.SavesOhm, g.SavesPlusOhm),
				measure.ShowDigits(g.SavesV, 3, "V"), measure.ShowDigits(1000*g.PackOhm, 3, "mΩ"))
		}
	}
	writeWarnings(out, "Warnings", warnings)
	fmt.Fprint(out, "\nCaution: a pack cannot be switched off. Work on one conductor at a time with the other insulated, never\n"+
		"leave the fuse out or fit a larger one than wire and rules allow, and ask a qualified person in doubt.\n")
}

func showMilliohm(ohm, expanded float64) string {
	return measure.ShowInterval(1000*ohm, 1000*expanded, "mΩ")
}
