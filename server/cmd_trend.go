package main

import (
	"bufio"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"packwright/internal/journal"
	"packwright/internal/place"
	"packwright/internal/season"
	"packwright/internal/trend"
)

type trendCmd struct {
	Codes []string `arg:"" optional:"" name:"code" help:"Codes of packs (all packs). One alone is shown in full."`
	Data  string   `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
	To20C bool     `name:"to-20c" help:"Bring every resistance to 20 °C first, as the team's setting may ask already."`
	JSON  bool     `name:"json" help:"Print one JSON object."`
}

// packTrend is a pack's trend as --json prints it.
type packTrend struct {
	Code string `json:"code"`
	Name string `json:"name"`
	trend.Analysis
}

func (cmd *trendCmd) Run(con *console) error {
	var codes []string
	for _, text := range cmd.Codes {
		code, err := journal.ReadCode(text)
		if err != nil {
			return err
		}
		codes = append(codes, code)
	}
	items, err := readClosed(cmd.Data, "")
	if err != nil {
		return err
	}
	f, err := fold(items)
	if err != nil {
		return err
	}
	f.SetClock(place.Of(con.now().Location()))
	one := len(codes) == 1
	if len(codes) == 0 {
		codes = slices.Sorted(f.Codes())
	}
	packs := []packTrend{}
	of, now := season.New(f), con.now().UnixMilli()
	for _, code := range codes {
		pack, err := f.Pack(code, now)
		if err != nil {
			return err
		}
		a, err := of.Trend(code, now, cmd.To20C)
		if err != nil {
			return err
		}
		packs = append(packs, packTrend{code, pack.Name, a})
	}
	slices.SortStableFunc(packs, func(a, b packTrend) int { return cmp.Compare(a.Name, b.Name) })
	if cmd.JSON {
		return con.printJSON(map[string]any{"limit_ohm": f.Team().Limits.CompetitionOhm, "packs": packs})
	}
	if len(packs) == 0 {
		con.note("there are no packs in %s yet", cmd.Data)
	}
	out := bufio.NewWriter(con.stdout)
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, p := range packs {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", p.Code, p.Name, strings.ReplaceAll(string(p.Outcome), "-", " "), p.Text)
	}
	table.Flush()
	if one {
		writeTrend(out, packs[0].Analysis)
	}
	return out.Flush()
}
