package demo

import (
	"math"
	"slices"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
)

// Invent draws another season of another club: nine to fourteen packs of which
// about half have a fault, with the mishaps of every club among the rest. The
// truth has what is really wrong: each pack has one fault at most, of a size that
// its physics gives and not of one that some rule would find. Sizes: ageing cells gain
// 25 to 80 % from the first test to the last, healthy ones up to 4 %; a bad crimp adds 14 to
// 40 mΩ, on every day or on most; a shorted cell takes 1.25 V; a leaking pack loses
// 45 to 75 % in 30 days, a healthy one 12 to 24 %; a faded one holds 45 to 70 % of
// its rating, a healthy one 86 to 102 %; a set-up is off by 9 to 18 mΩ in every
// reading, or by 10 to 18 % in the load. One pack repeats within 1 to 3 % from day to
// day, the thermometer within 0.6 K, and the cells differ by a tenth in what
// temperature does to them.
func Invent(seed uint64) ([]journal.Entry, []Truth) {
	d := newDiary(seed, 0x5eed)
	s := &drawn{diary: d, load: bench{ohm: 2.503, uncertainty: new(0.004), trueOhm: 2.5 + 0.02*d.rand.NormFloat64()}}
	d.repeats = d.between(0.01, 0.03)
	s.calendar()
	s.packs()
	s.play()
	return d.entries, d.truth
}

// drawn is a season that is drawn.
type drawn struct {
	*diary
	rounds []round
	fleet  []*member
	load   bench
}

// round is a test day.
type round struct {
	day      time.Time
	celsius  float64
	noted    float64 // what the thermometer shows above that
	ohm      float64 // the set-up's error: in every reading
	loadPart float64 // and as a share of the load
	cold     bool
}

// member is a pack with its part in the season.
type member struct {
	pack
	joins, leaves int // rounds from and before which it is tested
	repair        int // round before which its lead is repaired; 0 never
}

func (d *diary) between(low, high float64) float64 { return low + (high-low)*d.rand.Float64() }

func (d *diary) chance(p float64) bool { return d.rand.Float64() < p }

// calendar draws the test days: from March to June, and from September to
// November, one to two weeks apart, in a room that follows the weather.
func (s *drawn) calendar() {
	at := date("2026-03-02")
	end := date("2026-11-24")
	for at.Before(end) {
		summer := math.Sin(2 * math.Pi * float64(at.YearDay()-110) / 365)
		s.rounds = append(s.rounds, round{day: at, celsius: min(max(20+2*summer+0.8*s.rand.NormFloat64(), 16.5), 23.5), noted: 0.6 * s.rand.NormFloat64()})
		at = at.AddDate(0, 0, 7+s.rand.IntN(9))
		if at.After(date("2026-06-25")) && at.Before(date("2026-08-31")) {
			at = date("2026-08-31")
		}
	}
	n := len(s.rounds)
	if s.chance(0.75) {
		s.mishap(3 + s.rand.IntN(n-4))
	}
	if cold := 2 + s.rand.IntN(n-3); s.chance(0.3) && s.rounds[cold].ohm == 0 && s.rounds[cold].loadPart == 0 {
		s.rounds[cold].celsius, s.rounds[cold].cold = s.between(9, 12.5), true
	}
}

// mishap is a day on which the set-up is off.
func (s *drawn) mishap(i int) {
	r := &s.rounds[i]
	if s.chance(0.5) {
		r.ohm = s.between(0.009, 0.018)
	} else {
		r.loadPart = s.between(0.10, 0.18)
		if s.chance(0.5) {
			r.loadPart = -r.loadPart
		}
	}
	s.true("", diagnose.SetUp, r.day, r.day.AddDate(0, 0, 1))
}

// packs draws the packs and their faults.
func (s *drawn) packs() {
	n := 9 + s.rand.IntN(6)
	causes := []diagnose.Cause{diagnose.AgeingCells, diagnose.LostCell, diagnose.ContactOrLead, diagnose.SelfDischarge, diagnose.CapacityFade}
	if s.chance(0.5) {
		causes = append(causes, diagnose.AgeingCells)
	}
	if s.chance(0.5) {
		causes = append(causes, diagnose.ContactOrLead)
	}
	causes = slices.DeleteFunc(causes, func(diagnose.Cause) bool { return s.chance(0.2) })
	for i := range n {
		m := &member{leaves: len(s.rounds), pack: pack{
			name: "Pack " + string(rune('A'+i)), code: s.newCode(), inService: "2025-09-01", capacityAh: 3,
			cells: s.between(0.9, 1.25), perDay: s.between(0, 0.00015), contactOhm: s.between(0.015, 0.024),
			holds: s.between(0.86, 1.02), leaks: s.between(0.12, 0.24), openV: 0.04 * s.rand.NormFloat64(), perK: 1 + 0.1*s.rand.NormFloat64(),
		}}
		if i < len(causes) {
			s.fault(m, causes[i])
		} else {
			s.healthy(m)
		}
		s.fleet = append(s.fleet, m)
	}
}

// healthy packs come late, leave early, or get a new lead, now and then.
func (s *drawn) healthy(m *member) {
	n := len(s.rounds)
	switch {
	case s.chance(0.1):
		m.joins = 3 + s.rand.IntN(n-6)
	case s.chance(0.1):
		m.leaves = n - s.rand.IntN(n/2)
	case s.chance(0.15):
		m.repair = 3 + s.rand.IntN(n-6)
	}
}

// fault plants one.
func (s *drawn) fault(m *member, cause diagnose.Cause) {
	n := len(s.rounds)
	first, last := s.rounds[0].day, s.rounds[n-1].day
	switch cause {
	case diagnose.AgeingCells:
		s.plant(&m.pack, fault{cause: cause, from: first, rise: s.between(0.25, 0.8) * m.cells / (last.Sub(first).Hours() / 24)})
	case diagnose.LostCell:
		s.plant(&m.pack, fault{cause: cause, from: s.rounds[3+s.rand.IntN(n-5)].day})
	case diagnose.ContactOrLead:
		f := fault{cause: cause, ohm: s.between(0.014, 0.040), often: 1, rough: s.between(0, 0.2)}
		at := 4 + s.rand.IntN(n-8)
		f.from = s.rounds[at].day
		switch {
		case s.chance(0.3): // it comes and goes, also while the meter is read
			f.often, f.rough = s.between(0.5, 0.9), s.between(0.3, 0.6)
		case at+6 < n && s.chance(0.5):
			m.repair = at + 3 + s.rand.IntN(n-at-5)
			f.until = s.rounds[m.repair].day
		}
		s.plant(&m.pack, f)
	case diagnose.SelfDischarge:
		m.leaks = s.between(0.45, 0.75)
		s.true(m.code, cause, first, time.Time{})
	case diagnose.CapacityFade:
		m.holds = s.between(0.45, 0.70)
		s.true(m.code, cause, first, time.Time{})
	}
}

// play writes the season down.
func (s *drawn) play() {
	s.on(s.rounds[0].day.AddDate(0, 0, -2), laptop, "AO")
	s.write(journal.TeamChanged, "", journal.Team{
		Name: new("a club"), CompetitionOhm: new(0.1), Robot: &judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20}, Meter: &meter,
		Load:       &loadtest.Load{Name: "measured", Ohm: 2.503, UncertaintyOhm: new(0.004), RatingW: 100, OnHeatSink: true},
		ReadAfterS: new(float64(readAfterS)), Repeats: new(3), RestMin: new(60.0),
	})
	for _, m := range s.fleet {
		s.add(&m.pack)
	}
	for i := range s.rounds {
		if i > 0 && s.rounds[i].day.Sub(s.rounds[i-1].day) > 40*24*time.Hour {
			s.store(s.rounds[i-1].day, s.rounds[i].day)
		}
		s.repairs(i)
		s.on(s.rounds[i].day, benchPhone, "MK")
		for _, m := range s.fleet {
			if i >= m.joins && i < m.leaves && !s.chance(0.08) {
				s.testOf(m, i)
			}
		}
		if i == 5 || i == len(s.rounds)-3 {
			s.on(s.rounds[i].day.AddDate(0, 0, 1), benchPhone, "JT")
			for _, m := range s.fleet {
				if i >= m.joins && i < m.leaves {
					s.capacity(&m.pack, s.load, s.rounds[i].celsius)
				}
			}
		}
	}
}

// store charges the packs, tops them up after a month, and wakes them.
func (s *drawn) store(from, until time.Time) {
	days := until.Sub(from).Hours() / 24
	for k, share := range []float64{0.03, 0.5, 0.97} {
		s.on(from.AddDate(0, 0, int(days*share)), laptop, "AO")
		for _, m := range s.fleet {
			purpose := journal.TopUp
			if k == 0 {
				purpose = journal.ForUse
			}
			s.charge(&m.pack, purpose)
		}
	}
}

func (s *drawn) repairs(i int) {
	for _, m := range s.fleet {
		if m.repair == i && i > 0 {
			s.on(s.rounds[i].day.AddDate(0, 0, -1), pitPhone, "SB")
			m.contactOhm += s.between(-0.003, 0.002)
			s.repaired(&m.pack, journal.RepairLead, "new lead")
		}
	}
}

// testOf is one test, as it should be or with a mishap.
func (s *drawn) testOf(m *member, i int) {
	r := &s.rounds[i]
	b := s.load
	b.addedOhm += r.ohm
	b.trueOhm *= 1 + r.loadPart
	st := s.usual(r.celsius + 0.5*s.rand.NormFloat64())
	st.noted = r.noted
	unready := r.cold
	switch {
	case s.chance(0.012): // straight off the charger, and it was written down
		st.rested, st.fresh, st.celsius, unready = s.between(2, 20), s.between(0.2, 0.5), s.between(28, 40), true
	case s.chance(0.008): // the same, and nobody wrote it down
		st.rested, st.fresh, st.silent, unready = s.between(2, 10), s.between(0.4, 0.6), true, true
	case s.chance(0.008): // not charged since practice
		st.empty, unready = s.between(0.45, 0.75), true
	case s.chance(0.02): // read late
		st.seconds += s.between(1, 4)
	}
	if unready {
		s.true(m.code, diagnose.NotReady, s.now, s.now.Add(10*time.Minute))
	}
	s.write(journal.LoadTest, m.code, s.readings(&m.pack, b, st))
}
