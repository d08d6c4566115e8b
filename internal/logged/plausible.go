package logged

import "packwright/internal/measure"

// Shares of the rating that no pack gives, in percent (own rule): one that falls from
// full to the stop voltage within a tenth of its rating is not what was logged, and a
// rating is not printed at half of what cells hold. A dead pack may come near the
// first, so the warning says to test it.
const (
	leastPct = 10.0
	mostPct  = 200.0
)

// tooLittle tells that the voltage fell to the stop before a charge went out that even
// a worn pack gives. A pack that was not full explains itself.
func (r *Run) tooLittle(c *Capacity) bool {
	return c.Reached && c.SharePct.Value < leastPct && !(r.o.FromFull != nil && !*r.o.FromFull)
}

// notPack warns of a capacity that is none, and names the unit that would fit.
func (r *Run) notPack(out *Result, list *doubts) {
	k := out.Capacity
	if k == nil || k.Verdict != NotPack {
		return
	}
	share := k.SharePct.Value
	what := "more than twice the rating came out"
	hint := "check the rating, the load or the unit of the current, and the times"
	if share <= mostPct {
		what = "the voltage fell to the stop within " + showTime(*k.StopAtS) + ", when " + measure.ShowRough(share, "%") + " of the rating had gone out"
		hint = "was the load on from a full charge down to the stop? Check the last readings; if they are right the pack was not full, or it is failing: test its resistance"
	}
	if unit, would := r.likelyUnit(share); unit != "" {
		hint = "check the unit of the times: in " + unit.name() + " it would be " + measure.ShowRough(would, "%") + " of the rating"
	}
	list.add("not-pack", hint, "this is not the pack's capacity: %s", what)
}

// likelyUnit is the unit of times with which the share would be one that packs give,
// empty where there is none or where the file says how its times are written.
func (r *Run) likelyUnit(share float64) (unit TimeUnit, would float64) {
	was := r.o.timeUnit.seconds()
	for _, u := range []TimeUnit{Seconds, Minutes, Hours, Milliseconds} {
		if would = share * u.seconds() / max(was, 1e-9); was > 0 && u != r.o.timeUnit && would >= 2*leastPct && would <= 0.75*mostPct {
			return u, would
		}
	}
	return "", 0
}

// WhyNotCounted says why a run is not taken as the pack's capacity, empty where it is.
// fromFull is what was said about the start.
func WhyNotCounted(c *Capacity, fromFull *bool) string {
	why := ""
	switch {
	case c.Verdict == NotPack:
		why = "no such pack gives this"
	case c.SharePct == nil:
		why = "the pack's rated capacity is not in its profile"
	case fromFull == nil:
		why = "not known to have been full"
	case !*fromFull:
		why = "not full at the start"
	case !c.Reached:
		why = "it ended above the stop voltage"
	default:
		return ""
	}
	return why + ": it does not count as this pack's capacity"
}
