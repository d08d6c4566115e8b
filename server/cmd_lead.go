package main

import (
	"bufio"
	"math"
	"slices"
	"strings"

	"packwright/internal/fleet"
	"packwright/internal/measure"
	"packwright/internal/wiring"
)

// leadCmd is a lead on the command line. Wires and joints are written as one would
// say them: how many, of what length or kind, of what size or resistance.
type leadCmd struct {
	Wires  []string `name:"wire" sep:"none" placeholder:"N x LENGTH of SIZE" help:"A wire, such as \"2 x 300 mm of 14 AWG\" (out and back) or \"0.3 m of 2.5 mm2\"; repeat for more."`
	Joints []string `name:"joint" sep:"none" placeholder:"N x KIND of OHM" help:"Joints, such as \"4 x crimp\" or, as measured, \"2 x other of 1.5 mohm\"; repeat for more. Kinds: ${joints}."`
	Fuse   string   `placeholder:"A" help:"Rating of a blade fuse in the lead; its holder is a --joint."`

	Peak        string `placeholder:"A" help:"Peak current, for the volts lost (${peak})."`
	Temperature string `name:"copper-temperature" placeholder:"C" help:"Temperature of the copper, ± 10 °C (25)."`
	Pack        string `placeholder:"OHM" help:"Measured resistance of the pack with this lead: how much of it is cells, and what a better lead gains."`
	PackU       string `name:"pack-uncertainty" placeholder:"OHM" help:"Standard uncertainty of --pack: the ± of a test divided by its k."`

	JSON bool `name:"json" help:"Print one JSON object."`
}

// jointKinds are the kinds that --joint takes.
func jointKinds() []string {
	var kinds []string
	for _, k := range []wiring.Kind{wiring.Crimp, wiring.LeafContact, wiring.Bullet35, wiring.Bullet2, wiring.BladeTab,
		wiring.SmallPin, wiring.FuseHolder, wiring.Other} {
		kinds = append(kinds, string(k))
	}
	return kinds
}

func (cmd *leadCmd) Run(con *console) error {
	var r typed
	lead := cmd.read(&r)
	pack := r.one("pack", cmd.Pack, measure.Resistance)
	packU := r.one("pack-uncertainty", cmd.PackU, measure.Resistance)
	if (pack == nil) != (packU == nil) {
		r.fail("pack", "as in: --pack 0.102 --pack-uncertainty 0.006", "--pack and --pack-uncertainty go together")
	}
	if r.err != nil {
		return r.err
	}
	budget, err := wiring.Compute(lead)
	if r.checked(err); r.err != nil {
		return r.err
	}
	var compared *wiring.Comparison
	if pack != nil {
		c, err := wiring.Compare(lead, measure.Estimate{Value: *pack, StdUnc: *packU, DoF: math.Inf(1)})
		if r.checked(err); r.err != nil {
			return r.err
		}
		compared = &c
	}
	if cmd.JSON {
		return con.printJSON(map[string]any{"budget": budget, "comparison": compared})
	}
	out := bufio.NewWriter(con.stdout)
	writeLead(out, budget, compared)
	return out.Flush()
}

// read turns the flags into a lead.
func (cmd *leadCmd) read(r *typed) wiring.Lead {
	lead := wiring.Lead{
		PeakA:   value(r.one("peak", cmd.Peak, measure.Current), fleet.Defaults().Limits.Robot.PeakA),
		CopperC: r.one("copper-temperature", cmd.Temperature, measure.Temperature),
	}
	for _, text := range cmd.Wires {
		ways, length, size := r.counted("wire", text)
		w := wiring.Wire{Ways: ways, LengthMM: value(r.one("wire", length, measure.Length), 0)}
		if size == "" || !strings.HasSuffix(strings.ToLower(length), "m") {
			r.fail("wire", `write it like "2 x 300 mm of 14 AWG", the length in mm, cm or m`, "--wire: %q does not say length and size", text)
		}
		var err error
		w.Size, err = wiring.ReadSize(size)
		r.keep("wire", err)
		lead.Wires = append(lead.Wires, w)
	}
	for _, text := range cmd.Joints {
		count, kind, ohm := r.counted("joint", text)
		if !slices.Contains(jointKinds(), kind) {
			r.fail("joint", "write it like \"4 x crimp\"; kinds: "+strings.Join(jointKinds(), ", "), "--joint: %q is not a kind of joint", kind)
		}
		lead.Joints = append(lead.Joints, wiring.Joint{Kind: wiring.Kind(kind), Count: count, Ohm: r.one("joint", ohm, measure.Resistance)})
	}
	if fuse := r.one("fuse", cmd.Fuse, measure.Current); fuse != nil {
		lead.Joints = append(lead.Joints, wiring.Joint{Kind: wiring.BladeFuse, FuseA: *fuse})
	}
	if len(lead.Wires)+len(lead.Joints) == 0 {
		r.fail("wire", `as in: packwright lead --wire "2 x 300 mm of 14 AWG" --joint "4 x crimp" --fuse 20`, "a lead needs --wire, --joint or --fuse")
	}
	return lead
}

// counted takes "N x WHAT of HOW MUCH" apart; N is 1 where it is left out.
func (r *typed) counted(flag, text string) (n int, what, howMuch string) {
	what, howMuch, _ = strings.Cut(text, " of ")
	n = 1
	what = strings.TrimSpace(what)
	digits := len(what) - len(strings.TrimLeft(what, "0123456789"))
	rest := strings.TrimSpace(what[digits:])
	for _, times := range []string{"x", "×"} {
		if after, ok := strings.CutPrefix(rest, times); ok && digits > 0 {
			count := value(r.one(flag, what[:digits], measure.Count), 0)
			if count < 1 || count > 100 {
				r.fail(flag, "write 1 to 100", "--%s: %s is not a number of them", flag, what[:digits])
			}
			n, what = int(count), strings.TrimSpace(after)
		}
	}
	return n, what, strings.TrimSpace(howMuch)
}
