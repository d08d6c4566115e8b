package season

import (
	"slices"
	"strings"

	"packwright/internal/charging"
	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/order"
)

// Care is what comes before the usual care of a pack. Screen, paper and calendar
// all go by it.
//
// A pack with an open safety finding is stopped: nothing is asked of it, told of
// its driving or due, whatever its tests say. One that plainly or likely lost a
// cell is charged for its diagnosis alone. One that was mended is tested before
// anything else is said of it.
type Care struct {
	Safety   []string          // open safety findings in words, oldest first
	Lost     *diagnose.Finding // plainly or likely; nil: none
	MendedMS int64             // unix ms of the repair that no test has followed; 0: none, or something graver comes first
}

// stoppedAction stands for whatever the findings of a stopped pack ask for.
const stoppedAction = "nothing until a qualified person has looked at it; do not charge or use it"

// Stopped: nothing is done with the pack.
func (c *Care) Stopped() bool { return len(c.Safety) > 0 }

// NoCharge says why the pack gets no routine charge, in a few words; empty where it
// does.
func (c *Care) NoCharge() string {
	switch {
	case c.Stopped():
		return strings.Join(c.Safety, ", ")
	case c.Lost != nil:
		return c.Lost.LostWords() + ": charge it only as its page says"
	}
	return ""
}

// nothingDue says why nothing is due; empty where something may be.
func (c *Care) nothingDue() string {
	switch {
	case c.Stopped():
		return c.NoCharge() + ": do not charge or use it, so nothing is due"
	case c.Lost != nil:
		return c.NoCharge() + ", so nothing is due"
	}
	return ""
}

// Care is what comes before the usual care of a pack; the zero Care where there is
// no such pack. nowMS is the present in unix ms.
func (s *Season) Care(code string, nowMS int64) Care {
	s.surveyAll(nowMS)
	if p := s.look(code, nowMS); p != nil {
		return s.care(p)
	}
	return Care{}
}

// care is Care after surveyAll.
func (s *Season) care(p *pack) Care {
	c := Care{Safety: p.record.Safety}
	if f := s.survey.LostCell(p.history.Code); f != nil && heldBack(f) {
		c.Lost = f
	}
	if p.provedMS > 0 && p.sinceMS > p.provedMS && !p.record.Profile.Retired && !c.Stopped() && c.Lost == nil {
		c.MendedMS = p.sinceMS
	}
	return c
}

// mended is what is said of a pack that was mended and not tested since.
func (s *Season) mended(c Care) string {
	return "mended on " + s.fleet.Clock().Words(c.MendedMS) + ", not tested since"
}

// first is what comes before all else, in a few words; empty where nothing does.
func (s *Season) first(c Care) string {
	switch {
	case c.Stopped():
		return c.NoCharge() + ": do not charge or use it"
	case c.MendedMS > 0:
		return s.mended(c) + ": test it now"
	}
	return ""
}

// doubts are what speaks against packs of the survey.
func (s *Season) doubts() map[string]fleet.Doubt {
	if s.doubted != nil {
		return s.doubted
	}
	doubts := map[string]fleet.Doubt{}
	for _, code := range s.codes {
		c := s.care(s.packs[code])
		switch {
		case c.Lost != nil:
			words := c.Lost.LostWords()
			doubts[code] = fleet.Doubt{
				Reason: "the open-circuit voltage says that " + words + ", whatever the resistance", Short: "look first: " + words, Action: c.Lost.Action,
				Alone: words, AloneMS: c.Lost.SinceMS,
			}
		case c.MendedMS > 0:
			doubts[code] = fleet.Doubt{Reason: s.first(c), Short: s.first(c), Action: "test it now: that shows whether the repair was the cure", Overtaken: true}
		default:
			if f := s.survey.OfUse(code); f != nil && heldBack(f) {
				doubts[code] = fleet.Doubt{Hint: hintOf(f)}
			}
		}
	}
	s.doubted = doubts
	return doubts
}

// hintOf is what a finding means for the use of a pack, for the list of packs.
func hintOf(f *diagnose.Finding) string {
	switch f.Cause {
	case diagnose.ContactOrLead:
		return "look at the lead"
	case diagnose.CapacityFade:
		return "holds less than it should"
	default:
		return "loses its charge in store"
	}
}

// reported is what was found on a pack, with what comes before.
func (s *Season) reported(r diagnose.Report, c Care) diagnose.Report {
	switch {
	case c.Stopped():
		r.Findings = slices.Clone(r.Findings)
		for i := range r.Findings {
			r.Findings[i].Action = stoppedAction
		}
		r.NextTest = nil
	case c.MendedMS > 0:
		r.NextTest = &diagnose.NextTest{Kind: diagnose.DoLoadTest, Why: s.mended(c) + ": it shows whether the repair was the cure"}
	}
	return r
}

// dueFirst puts the test that proves a repair before all that is due.
func (s *Season) dueFirst(st *charging.Status, c Care, nowMS int64) {
	if c.MendedMS == 0 {
		return
	}
	st.Due = slices.DeleteFunc(st.Due, func(d charging.Due) bool { return d.Kind == charging.DueTest })
	st.Due = append(st.Due, charging.Due{Kind: charging.DueTest, DayMS: nowMS, Over: true, Text: s.mended(c), Rule: "a repair is proved by a test; own rule"})
	order.Stable(st.Due, func(a, b *charging.Due) int {
		switch {
		case a.Kind == charging.DueTest:
			return -1
		case b.Kind == charging.DueTest:
			return 1
		}
		return 0
	})
}
