package fleet

import (
	"packwright/internal/judge"
	"packwright/internal/loadtest"
)

// Defaults are the team's settings before anyone has changed one: common
// practice without a published source, where nothing else is said. They are
// chosen to be safe and honest rather than flattering. With this load and this
// meter a pack near the limit cannot be decided, and the set-up check says so
// and says what helps; a default that pretended more would decide wrongly.
func Defaults() Team {
	tolerance := 5.0
	return Team{
		Limits: judge.Limits{
			CompetitionOhm: 0.1,
			// A charged, rested pack, the voltage at which robot controllers of
			// this class brown out, and the peak a drive train draws: 0.2 Ω for practice.
			Robot: judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20},
		},
		// A plain hand-held meter on its 20 V range.
		Meter: loadtest.Meter{ReadingPct: 0.5, Counts: 2, ResolutionV: 0.01},
		// The part most teams find first. About 16 W go into it, more than it
		// stands for long without a heat sink, so none is assumed.
		Load: loadtest.Load{Ohm: 10, TolerancePct: &tolerance, RatingW: 25},
		// Long enough to read a settled display, and for the fast part of the
		// cells' answer to be over; short enough for a small resistor.
		ReadAfterS: 5,
		// The fewest readings whose scatter says something.
		Repeats: 3,
		// Surface charge has mostly gone an hour after charging.
		RestMin:    60,
		RetestDays: 30,

		// Two on the field in turn, one charging, one to spare.
		WantedPacks: 4,
		WantedPct:   90,
		// Two weeks until packs are there, and one for their first slow charges
		// and tests.
		DeliveryDays: 21,
		// Sources differ between 60 and 80 % of the rating: 60 % ends the endurance
		// test of IEC 61951-2 (as quoted in makers' data sheets), 80 % is usual where
		// power counts (from memory).
		CapacityGoodPct: 80,
		CapacityEndPct:  60,
		// Makers' data sheets limit a fast charge to 105 to 120 % of the rating. A charge
		// ended by the drop of voltage took 110.5 % (measured, a published model of a
		// 6.5 Ah cell), one at a tenth of the rating by the clock takes 140 to 160 %.
		ChargeFactor: 1.2,
		// Ordinary cells lose 20 to 30 % in a month by several makers; IEC 61951-2
		// allows 40 % in 28 days (as quoted in a data sheet).
		SelfDischargePctMonth: 30,
		// Every three to six months; the shorter, since the season's packs are few.
		TopUpDays: 90,
		// Two makers of tools and lamps ask for a cycle every six months.
		ConditionDays: 180,
	}
}
