package diagnose

import "packwright/internal/trend"

// The kinds of NextTest. The texts are part of the API.
const (
	DoLoadTest    = "load-test"
	DoWiggle      = "wiggle"
	DoCapacity    = "capacity"
	DoRestVoltage = "rest-voltage"
	DoReference   = "reference"
)

// recentDays is how long a capacity check says how cells are that age (own rule).
const recentDays = 90

// nextTest names the test that tells most: what would settle the most serious
// open finding, or make a trend possible.
func (h *history) nextTest(findings []Finding, limitOhm float64) *NextTest {
	if h.Retired {
		return nil
	}
	for i := range findings {
		f := &findings[i]
		if f.Past {
			continue
		}
		switch f.Cause {
		case LostCell:
			return &NextTest{DoRestVoltage, "charge it fully, let it rest overnight and read the open voltage: it tells a lost cell from a pack that was not charged"}
		case ContactOrLead:
			if h.wiggledSince(f.SinceMS) {
				return &NextTest{DoLoadTest, "after the repair: it shows whether the contact was the cause"}
			}
			return &NextTest{DoWiggle, "it shows which place of the lead makes the contact, or that none does"}
		case AgeingCells:
			if h.checkedSince(h.latestMS() - recentDays*dayMS) {
				return &NextTest{DoLoadTest, "when it is due: a rise is dated the better the more test days there are"}
			}
			return &NextTest{DoCapacity, "cells that age lose capacity, too: it tells them from a lead that slowly gets worse"}
		case CapacityFade:
			return &NextTest{DoCapacity, "after two slow cycles: stored cells often come back"}
		case SelfDischarge:
			return &NextTest{DoRestVoltage, "two weeks after a full charge, with a sister for comparison"}
		case SetUp:
			return &NextTest{DoReference, "a reference pack or resistor tells whether the set-up is right again"}
		case NotReady:
			return &NextTest{DoLoadTest, "its latest test does not compare: charge, rest, and test at room temperature"}
		}
	}
	return h.forTrend(limitOhm)
}

// forTrend asks for tests until a trend can be told.
func (h *history) forTrend(limitOhm float64) *NextTest {
	most := 0
	for i := range h.series {
		segments := h.segments(&h.series[i])
		most = max(most, len(segments[len(segments)-1]))
	}
	if limitOhm > 0 && most < trend.FewestOccasions {
		return &NextTest{DoLoadTest, "too few test days compare for a trend"}
	}
	return nil
}

func (h *history) wiggledSince(ms int64) bool {
	for i := range h.Wiggles {
		if h.Wiggles[i].AtMS >= ms {
			return true
		}
	}
	return false
}

func (h *history) checkedSince(ms int64) bool {
	for _, c := range h.Capacities {
		if c.Reached && c.AtMS >= ms {
			return true
		}
	}
	return false
}
