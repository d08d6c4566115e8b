package diagnose

import (
	"math"
	"slices"
	"strconv"

	"packwright/internal/measure"
)

// Day is a test day on which the packs shifted together: the set-up was off, or
// was changed.
type Day struct {
	AtMS     int64   // unix ms of its first test
	ShiftPct float64 // percent, median of the packs
	Stays    bool    // the tests after it are shifted as well
	Packs    []string
	Finding  Finding // its Tests are those of all packs

	tests map[string][]string // entry ids by pack
}

// reference is the shift of the team's reference pack, NaN where it was not tested.
func (f *Fleet) reference(day []*shifted) float64 {
	for i := range day {
		if f.rules.ReferencePack != "" && day[i].h.Code == f.rules.ReferencePack {
			return day[i].before
		}
	}
	return math.NaN()
}

// word writes the finding; it is false where the reference pack contradicts.
func (d *Day) word(s *shift, reference float64, noted bool) bool {
	f := &d.Finding
	f.Cause, f.Title, f.SinceMS, f.Past, f.Confidence = SetUp, "The set-up was off that day", d.AtMS, s.known, Possible
	if d.Stays {
		f.Title, f.Past = "The set-up changed", false
	}
	f.Rule = "what all packs show on one day with one set-up is the set-up: their median shift against their own tests before and after, beyond 5 % and three standard errors, with and without the correction for temperature (own rule)"
	f.Action = "check the meter's battery, the load's value and its leads, and the reading second; measure a reference resistor or reference pack before every test day"
	way := " higher"
	if d.ShiftPct < 0 {
		way = " lower"
	}
	f.Evidence = append(f.Evidence, "all together, "+strconv.Itoa(s.packs)+" packs read "+measure.ShowPercent(math.Abs(d.ShiftPct))+way+" than in their own tests around that day (median)")
	switch {
	case d.Stays:
		f.Evidence = append(f.Evidence, "the tests after it read so, too, so each pack is compared anew from that day")
	case s.known:
		f.Evidence = append(f.Evidence, "the tests after it were back, so that day's tests are left out")
	default:
		f.Evidence = append(f.Evidence, "it is the latest test day: test again with the set-up checked")
	}
	if !noted {
		f.Evidence = append(f.Evidence, "temperatures were not noted: a warmer or colder room shifts all packs, too")
	} else if s.packs >= surePacks && s.known {
		f.Confidence = Likely
	}
	if !math.IsNaN(reference) {
		if reference*d.ShiftPct <= 0 || math.Abs(reference) < leastShift/2 {
			return false
		}
		f.Evidence = append(f.Evidence, "the reference pack shows it, too: "+measure.ShowPercent(math.Abs(reference)*100)+way)
		if noted {
			f.Confidence = Plain
		}
	}
	return true
}

// leaveOut takes the day's tests out of the packs' series.
func (d *Day) leaveOut(f *Fleet) {
	for _, code := range d.Packs {
		h := f.packs[code]
		for i := range h.series {
			s := &h.series[i]
			s.points = slices.DeleteFunc(s.points, func(p point) bool { return slices.Contains(d.tests[code], p.ids[0]) })
		}
	}
}

// cut makes the packs' series begin anew on that day.
func (d *Day) cut(f *Fleet) {
	for _, code := range d.Packs {
		h := f.packs[code]
		h.cuts = append(h.cuts, d.AtMS)
		slices.Sort(h.cuts)
	}
}

// of is the day's finding for one pack, or nil.
func (d *Day) of(h *history) *Finding {
	if d.tests[h.Code] == nil {
		return nil
	}
	f := d.Finding
	f.Tests = d.tests[h.Code]
	return &f
}
