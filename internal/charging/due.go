package charging

import (
	"strconv"

	"packwright/internal/order"
)

// The kinds of Due. They are part of the API.
const (
	DueTopUp        = "top-up"
	DueConditioning = "conditioning"
	DueTest         = "test"
	DueCapacity     = "capacity"
)

// capacityDays is between capacity checks: twice a year (common practice, no
// source: twice a season).
const capacityDays = 183.0

const mostDays = 36_500.0 // a longer interval is none

// due lists what the pack needs. A pack without any charge on record gets no
// date for one; one that was never tested or checked is due for it now.
func (s *Status) due(charges []Charge, lastTestMS, lastCapacityMS *int64, r Rules, nowMS int64) {
	if s.LastChargeMS != nil {
		s.add(r, DueTopUp, *s.LastChargeMS, r.TopUpDays, nowMS, "charged",
			", the team's setting; makers say every 6 months, common practice is every 3 to 6 months")
		s.add(r, DueConditioning, lastCycleMS(charges), r.ConditionDays, nowMS, "run through a cycle",
			", the team's setting; makers say that capacity comes back after two or three slow cycles")
	}
	s.addTest(r, DueTest, lastTestMS, r.RetestDays, nowMS, "tested", "; common practice is every two to four weeks in the season")
	s.addTest(r, DueCapacity, lastCapacityMS, capacityDays, nowMS, "checked for capacity", "; common practice, no source: twice a season")
	order.Stable(s.Due, func(a, b *Due) int {
		switch {
		case a.DayMS < b.DayMS:
			return -1
		case a.DayMS > b.DayMS:
			return 1
		}
		return 0
	})
}

// lastCycleMS is the end of the latest charge that belongs to a cycle, or of the
// oldest charge where all are top-ups: it has been as long as that at least.
func lastCycleMS(newestFirst []Charge) int64 {
	for i := range newestFirst {
		if newestFirst[i].isCycle() {
			return newestFirst[i].endMS()
		}
	}
	return newestFirst[len(newestFirst)-1].endMS()
}

// add puts down what is due so many days after it was done.
func (s *Status) add(r Rules, kind string, doneMS int64, days float64, nowMS int64, done, source string) {
	if !(days > 0 && days <= mostDays) {
		return
	}
	d := Due{Kind: kind, DayMS: r.Clock.Later(doneMS, days), Text: "last " + done + " " + ago(r.Clock.DaysBetween(doneMS, nowMS))}
	d.Over = d.DayMS <= nowMS
	d.Rule = "every " + counted(days) + source
	s.Due = append(s.Due, d)
}

func (s *Status) addTest(r Rules, kind string, doneMS *int64, days float64, nowMS int64, done, source string) {
	if doneMS != nil {
		s.add(r, kind, *doneMS, days, nowMS, done, source)
		return
	}
	if days > 0 && days <= mostDays {
		s.Due = append(s.Due, Due{Kind: kind, DayMS: nowMS, Over: true, Text: "never " + done, Rule: "every " + counted(days) + source})
	}
}

func ago(days int) string {
	if days < 1 {
		return "today"
	}
	return counted(float64(days)) + " ago"
}

func counted(days float64) string {
	if days == 1 {
		return "1 day"
	}
	return strconv.FormatFloat(days, 'f', -1, 64) + " days"
}
