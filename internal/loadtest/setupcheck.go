package loadtest

import (
	"fmt"
	"math"
	"strconv"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// The codes of refusals and warnings about a set-up, besides those of a
// result. They are part of the API.
const (
	SetupAboveFuse     = AboveFuse          //
	SetupAboveLoad     = "power-above-load" // beyond the part's short-time rating
	SetupTooLong       = "too-long-on-load" // the load does not stand it until the reading
	SetupRatingUnknown = "rating-unknown"   // a refusal where the load is on for more than the short time that is allowed then
	SetupFuseUnknown   = "fuse-unknown"     //
	SetupNoHeatSink    = "no-heat-sink"     //
	SetupHot           = "hot-load"         // burns the skin: always there
	SetupCoarse        = "coarse-at-limit"  // U is more than a quarter of the limit
)

// Check says whether a set-up can be worked out at all. Errors are
// *problem.Error.
func (s Setup) Check() error {
	if err := s.Meter.Check(); err != nil {
		return err
	}
	if err := s.Load.Check(); err != nil {
		return err
	}
	if err := checkRange("fuse_a", &s.FuseA, 0, 1000); err != nil {
		return err
	}
	if !(s.OpenV > 0 && s.OpenV <= 100) {
		return problem.Invalidf("open_v", "enter what a charged pack shows, such as 12.8", "%s is not a possible voltage", plain(s.OpenV))
	}
	if !(s.LimitOhm > 0 && s.LimitOhm <= 100) {
		return problem.Invalidf("limit_ohm", "enter it in ohm, such as 0.1", "%s is not a possible limit", plain(s.LimitOhm))
	}
	if s.Repeats < 1 || s.Repeats > mostReadings {
		return problem.Invalidf("repeats", fmt.Sprintf("enter a whole number from 1 to %d", mostReadings), "%d readings cannot be planned", s.Repeats)
	}
	return checkRange("read_after_s", &s.ReadAfterS, 0, 3600)
}

// Check says whether the load can be used in a set-up.
func (l Load) Check() error {
	if err := checkPositive("load.ohm", l.Ohm); err != nil {
		return err
	}
	if l.TolerancePct != nil && l.UncertaintyOhm != nil {
		return problem.Invalidf("load.tolerance_pct", "give the tolerance, or the uncertainty where the load was measured",
			"the load has both a tolerance and an uncertainty")
	}
	if err := checkRange("load.tolerance_pct", l.TolerancePct, 0, 100); err != nil {
		return err
	}
	if err := checkRange("load.uncertainty_ohm", l.UncertaintyOhm, 0, 1e6); err != nil {
		return err
	}
	if err := checkRange("load.tempco_ppm_k", l.TempcoPpmK, -1e5, 1e5); err != nil {
		return err
	}
	if err := checkRange("load.lead_ohm", &l.LeadOhm, 0, 1e6); err != nil {
		return err
	}
	return checkRange("load.rating_w", &l.RatingW, 0, 1e6)
}

// CheckSetup says, before anything is connected, whether a set-up is safe for
// fuse and load, how long the load may stay on, what uncertainty it will reach
// for a pack at the limit, and which one change would help most. A set-up that
// must not be used is not an error: OK is false and Refusals say why. Errors
// are *problem.Error, for input that cannot be worked out.
//
// Current and power are worst cases: a pack without resistance at OpenV.
func CheckSetup(s Setup) (SetupCheck, error) {
	if err := s.Check(); err != nil {
		return SetupCheck{}, err
	}
	c := SetupCheck{}
	c.CurrentA = s.OpenV / (s.Load.Ohm + s.Load.LeadOhm)
	c.PowerW = float64(measure.Square(c.CurrentA) * s.Load.Ohm)
	longest := s.Load.longestS(c.PowerW)
	c.LongestS = finite(longest)
	onS := min(s.ReadAfterS+handlingS, longest)
	c.PauseS = s.Load.pauseS(c.PowerW, onS)
	c.LoadRiseK = heatingK(&s)
	c.Refusals = refusals(&s, &c, longest)
	c.OK = len(c.Refusals) == 0

	u, loadedV, err := predict(&s)
	if err != nil {
		return SetupCheck{}, err
	}
	c.UAtLimitOhm = u
	c.ShareOfLimitPct = 100 * u / s.LimitOhm
	c.BestChange = bestChange(&s, u)
	c.Warnings = setupWarnings(&s, &c)
	c.Working = setupWorking(&s, &c, loadedV, longest, onS)
	return c, nil
}

// refusals are the reasons not to connect.
func refusals(s *Setup, c *SetupCheck, longest float64) []Warning {
	w := warner{list: []Warning{}}
	if s.FuseA > 0 && c.CurrentA > s.FuseA {
		w.add(SetupAboveFuse, fmt.Sprintf("%s is more than the %s fuse is for", measure.ShowRough(c.CurrentA, "A"), measure.Show(s.FuseA, "A")),
			"use a load of "+measure.ShowRough(math.Ceil(10*s.OpenV/s.FuseA)/10, "Ω")+" or more")
	}
	if s.Load.RatingW > 0 && c.PowerW > mostOverload*s.Load.RatingW {
		w.add(SetupAboveLoad, fmt.Sprintf("%s is more than five times the load's rating of %s", measure.ShowRough(c.PowerW, "W"), measure.Show(s.Load.RatingW, "W")),
			"use a larger part or a larger resistance")
	}
	switch onS := s.ReadAfterS + handlingS; {
	case onS <= longest:
	case s.Load.RatingW == 0:
		w.add(SetupRatingUnknown, fmt.Sprintf("the load's rating is not given, so nobody can say how long it stands %s; such a load is kept on for %s at most, and with %s to read and disconnect it is on for %s",
			measure.ShowRough(c.PowerW, "W"), measure.Show(unratedLongestS, "s"), measure.Show(handlingS, "s"), measure.Show(onS, "s")),
			"read the rating off the part and enter it; until then read after "+measure.Show(unratedLongestS-handlingS, "s")+" at most")
	default:
		w.add(SetupTooLong, fmt.Sprintf("with %s to read and disconnect the load is on for %s; it stands %s for %s only",
			measure.Show(handlingS, "s"), measure.Show(onS, "s"), measure.ShowRough(c.PowerW, "W"), measure.ShowRough(longest, "s")),
			"read earlier, use a larger part, or put it on its heat sink")
	}
	return w.list
}

// coarseSharePct is the share of the limit, in percent, above which a set-up is
// called coarse (common practice, no source).
const coarseSharePct = 25

// setupWarnings are doubts and dangers that do not forbid the test.
func setupWarnings(s *Setup, c *SetupCheck) []Warning {
	w := warner{list: []Warning{}}
	if s.FuseA == 0 {
		w.add(SetupFuseUnknown, "the fuse is not given, so the current could not be checked against it", "read the fuse's number")
	}
	if s.Load.RatingW == 0 {
		if s.ReadAfterS+handlingS <= unratedLongestS { // or the refusal says it
			w.add(SetupRatingUnknown, "the load's rating is not given, so its heating could not be checked",
				"read it off the part and enter it; until then keep it on for "+measure.Show(unratedLongestS, "s")+" at most")
		}
	} else if !s.Load.OnHeatSink && c.PowerW > s.Load.lastingW() {
		w.add(SetupNoHeatSink, fmt.Sprintf("without its heat sink the load carries about %s for good, a fifth of its rating; the test puts in %s",
			measure.ShowRough(s.Load.lastingW(), "W"), measure.ShowRough(c.PowerW, "W")), "screw it to its heat sink, or keep to the times given")
	}
	w.add(SetupHot, "the load and its leads get hot enough to burn skin", "touch neither the load nor bare leads: hold it by an insulated clip, handle or connector, or let it lie on something that cannot burn; leave it until it has cooled")
	if s.Load.TolerancePct == nil && s.Load.UncertaintyOhm == nil {
		w.toleranceAssumed()
	}
	if s.Repeats < 2 {
		w.add(OneReading, "one reading shows no scatter", "plan three readings")
	}
	if c.ShareOfLimitPct > coarseSharePct {
		w.add(SetupCoarse, "the uncertainty is "+measure.ShowPercent(c.ShareOfLimitPct)+" of the limit: packs near the limit cannot be decided", c.BestChange)
	}
	return w.list
}

const setupScript = `
current at most | I = V0 / (R_L + r_w) | {V0} / ({R_L} + {r_w}) | {I}
power in the load at most | P = I² · R_L | ({I})² · {R_L} | {P}
power the load carries for good | P_c = rating · share | {rating} · {share} | {P_c}
longest time on load | P ≤ P_c | {P} ≤ {P_c} | no bound{lasts}
longest time on load | t = q · rating / P | {q} · {rating} / {P} | {t}
heating of the load until the reading, estimated | ΔT = P · t / (c · rating) | {P} · {t_read} / ({c} · {rating}) | {ΔT}
pause between readings, a minute at least | t_p = P · t_on / P_c − t_on | {P} · {t_on} / {P_c} − {t_on} | {t_p}
voltage on load of a pack at the limit | V1 = V0 · L / (L + R), L = R_L + r_w | {V0} · {L} / ({L} + {R}) | {V1}
uncertainty of such a test, 95 % | U, worked out as for a test | readings: {n}, scatter of ±1 count assumed | {U}
as a share of the limit | U / limit | {U} / {R} | {U.share}
`

// setupWorking writes the check out.
func setupWorking(s *Setup, c *SetupCheck, loadedV, longest, onS float64) []Step {
	b := newBoard()
	b.put("V0", s.OpenV, "V")
	b.put("R_L", s.Load.Ohm, "Ω")
	b.put("r_w", s.Load.LeadOhm, "Ω")
	b.put("L", s.Load.Ohm+s.Load.LeadOhm, "Ω")
	b.put("I", c.CurrentA, "A")
	b.put("P", c.PowerW, "W")
	if s.Load.RatingW > 0 {
		b.put("rating", s.Load.RatingW, "W")
		b.put("share", s.Load.lastingW()/s.Load.RatingW, "")
		b.put("P_c", s.Load.lastingW(), "W")
		b.put("t_read", s.ReadAfterS, "s")
		b.put("c", heatCapacityJPerKW, "J/(K·W)")
		b.set("ΔT", measure.ShowRough(*c.LoadRiseK, "K"))
		b.put("t_on", onS, "s")
		b.put("t_p", c.PauseS, "s")
		if math.IsInf(longest, 1) {
			b.set("lasts", "")
		} else {
			b.put("q", s.Load.pulseJPerW(), "J/W")
			b.set("t", measure.ShowRough(longest, "s"))
		}
	}
	b.put("R", s.LimitOhm, "Ω")
	b.put("V1", loadedV, "V")
	b.set("n", strconv.Itoa(s.Repeats))
	b.set("U", measure.ShowRough(c.UAtLimitOhm, "Ω"))
	b.set("U.share", measure.ShowPercent(c.ShareOfLimitPct))
	b.write(setupScript)
	return b.steps
}
