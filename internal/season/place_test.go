package season

import (
	"cmp"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // a phone's compiler has no zones of its own

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/place"
	"pgregory.net/rapid"
)

func zone(t failer, name string) (*time.Location, place.Clock) {
	t.Helper()
	l, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return l, place.Of(l)
}

// at is a day after day0 as the diary counts, of a time of the place.
func at(t failer, l *time.Location, local string) float64 {
	t.Helper()
	when, err := time.ParseInLocation("2006-01-02 15:04", local, l)
	if err != nil {
		t.Fatal(err)
	}
	return float64(when.UnixMilli()-day0) / dayMS
}

// The event is on its day all day long, wherever that is, and over at midnight.
func TestEventDayOfThePlace(t *testing.T) {
	for _, c := range []struct{ zone, now, then, why string }{
		{"America/Los_Angeles", "2027-01-23 21:00", "2027-01-24", "the day is tomorrow"}, // 24 January in UTC
		{"America/Los_Angeles", "2027-01-24 00:00", "2027-01-24", "the day is today"},
		{"America/Los_Angeles", "2027-01-24 23:59", "2027-01-24", "the day is today"}, // the 25th there
		{"America/Los_Angeles", "2027-01-25 00:00", "2027-03-26", ""},
		{"Pacific/Auckland", "2027-01-23 23:59", "2027-01-24", "the day is tomorrow"},
		{"Pacific/Auckland", "2027-01-24 00:00", "2027-01-24", "the day is today"}, // the 23rd there
		{"Pacific/Auckland", "2027-01-24 23:59", "2027-01-24", "the day is today"},
		{"Pacific/Auckland", "2027-01-25 00:00", "2027-03-26", ""},
	} {
		l, clock := zone(t, c.zone)
		d := newDiary(t)
		d.fleet.SetClock(clock)
		d.add(0, packA, "Heron 1")
		d.test(10, packA, 0.07)
		d.write(20, journal.TeamChanged, "", `{"event_date":"2027-01-24","wanted_packs":2,"delivery_days":1}`)
		b := d.board(at(t, l, c.now), BoardRequest{})
		if got := clock.Date(b.Plan.ThenMS); got != c.then {
			t.Errorf("%s in %s: asked about %s, want %s", c.now, c.zone, got, c.then)
		}
		if why := strings.Join(b.Plan.Test[0].Why, "; "); !strings.Contains(why, cmp.Or(c.why, "last tested")) || c.why == "" && strings.Contains(why, "the day is") {
			t.Errorf("%s in %s: %s", c.now, c.zone, why)
		}
		if !strings.Contains(b.Plan.Buy.Text, clock.Words(b.Plan.ThenMS)) {
			t.Errorf("%s in %s: %s", c.now, c.zone, b.Plan.Buy.Text)
		}
	}
}

// Today can be asked about to its last moment, yesterday never; and what is answered
// is about that day.
func TestTodayAllDay(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	rapid.Check(t, func(t *rapid.T) {
		_, clock := zone(t, rapid.SampledFrom([]string{"Europe/Berlin", "America/Los_Angeles", "Pacific/Auckland", "Pacific/Chatham", "UTC"}).Draw(t, "zone"))
		now := day0 + rapid.Int64Range(0, 400*dayMS).Draw(t, "now")
		d.fleet.SetClock(clock)
		b, err := BoardOf(d.fleet, BoardRequest{NowMS: now, Day: clock.Date(now)})
		if err != nil || b.Plan.ThenMS < now || clock.DaysBetween(now, b.Plan.ThenMS) != 0 {
			t.Fatalf("today: %d (%v)", b.Plan.ThenMS, err)
		}
		if b, err := BoardOf(d.fleet, BoardRequest{NowMS: now, Day: clock.Date(clock.Later(now, -1))}); err == nil {
			t.Fatalf("yesterday: %d", b.Plan.ThenMS)
		}
	})
}

// A test in the evening west of Greenwich belongs to that evening's day, in what is
// found and in the calendar.
func TestEveningInTheWest(t *testing.T) {
	l, clock := zone(t, "America/Los_Angeles")
	d := newDiary(t)
	d.fleet.SetClock(clock)
	d.add(0, packA, "Heron 1")
	d.write(at(t, l, "2026-11-20 19:00"), journal.LoadTest, packA, strings.Replace(testBody(0.07, ""), `"rested_min":120`, `"rested_min":5`, 1))
	now := at(t, l, "2026-11-22 08:00")
	h := d.health(packA, now)
	i := 0
	for i < len(h.Report.Findings) && h.Report.Findings[i].Cause != diagnose.NotReady {
		i++
	}
	if i == len(h.Report.Findings) || !strings.HasPrefix(h.Report.Findings[i].Evidence[0], "20 Nov 2026: ") {
		t.Errorf("%s", text(t, &h.Report))
	}
	due := h.Charging.Due
	if len(due) == 0 || due[len(due)-1].Text != "last tested 2 days ago" {
		t.Errorf("%s", text(t, &due))
	}
	// Every 30 days by the team's usual setting: 20 December, 19:00 there.
	if file := New(d.fleet).Calendar(int64(day0 + now*dayMS)); !strings.Contains(file, "UID:7k3qxx-test@packwright\r\nDTSTAMP:20261122T160000Z\r\nDTSTART;VALUE=DATE:20261220\r\n") {
		t.Errorf("%s", file)
	}
}

// In summer time's last week an interval ends on the day that a calendar counts to.
func TestDueAcrossAShift(t *testing.T) {
	l, clock := zone(t, "Europe/Berlin")
	for _, c := range []struct{ tested, due string }{
		{"2026-10-01 23:30", "20261031"}, // 30 times 24 hours end at 22:30
		{"2027-03-01 00:30", "20270331"},
		{"2027-03-01 23:30", "20270331"}, // and here at 00:30 on the next day
	} {
		d := newDiary(t)
		d.fleet.SetClock(clock)
		d.add(0, packA, "Heron 1")
		d.test(at(t, l, c.tested), packA, 0.07)
		if file := New(d.fleet).Calendar(int64(day0 + (at(t, l, c.tested)+1)*dayMS)); !strings.Contains(file, "DTSTART;VALUE=DATE:"+c.due) {
			t.Errorf("tested %s: %s", c.tested, file)
		}
	}
}

// A repair that names a day counts from noon there: tests of the morning came before
// it, those of the afternoon after it.
func TestRepairOfADay(t *testing.T) {
	for _, name := range []string{"America/Los_Angeles", "Pacific/Auckland", "Europe/Berlin"} {
		l, clock := zone(t, name)
		for when, tests := range map[string]int{"2026-10-09 19:00": 1, "2026-10-10 11:59": 1, "2026-10-10 12:00": 2, "2026-10-10 19:00": 2, "2026-10-11 08:00": 2} {
			d := newDiary(t)
			d.fleet.SetClock(clock)
			d.add(0, packA, "Heron 1")
			d.test(at(t, l, "2026-09-20 18:00"), packA, 0.09)
			d.test(at(t, l, when), packA, 0.07)
			d.test(at(t, l, "2026-10-20 18:00"), packA, 0.07)
			d.write(at(t, l, "2026-10-21 18:00"), journal.Repaired, packA, `{"part":"lead","text":"crimped","day":"2026-10-10"}`)
			h := d.health(packA, at(t, l, "2026-10-22 18:00"))
			after := 0
			for _, p := range h.Points {
				if p.Used {
					after++
				}
			}
			if after != tests {
				t.Errorf("%s, tested %s: %d tests since the repair, want %d", name, when, after, tests)
			}
		}
	}
}

// Who travels gets the same answers as one who was there all the time.
func TestAnotherPlace(t *testing.T) {
	l, west := zone(t, "America/Los_Angeles")
	_, east := zone(t, "Pacific/Auckland")
	d := wearing(t)
	d.write(at(t, l, "2026-11-01 19:00"), journal.LoadTest, packA, strings.Replace(testBody(0.09, ""), `"rested_min":120`, `"rested_min":5`, 1))
	d.write(at(t, l, "2026-11-05 19:00"), journal.Repaired, packA, `{"part":"lead","text":"crimped","day":"2026-11-01"}`)
	now := int64(day0 + at(t, l, "2026-11-06 19:00")*dayMS)
	kept := New(d.fleet)
	answers := func(s *Season) string {
		b, err := s.Board(BoardRequest{NowMS: now, Day: "2026-12-24"})
		if err != nil {
			t.Fatal(err)
		}
		h, err := s.Health(packA, now)
		if err != nil {
			t.Fatal(err)
		}
		return text(t, &b) + text(t, &h) + s.Calendar(now)
	}
	var seen []string
	for _, clock := range []place.Clock{west, east, nil, west} {
		d.fleet.SetClock(clock)
		got := answers(kept)
		if want := answers(New(d.fleet)); got != want {
			t.Errorf("kept\n%s\nfresh\n%s", got, want)
		}
		seen = append(seen, got)
	}
	if seen[0] == seen[1] || seen[1] == seen[2] || seen[0] != seen[3] {
		t.Error("the place makes no difference, or not the same one")
	}
}
