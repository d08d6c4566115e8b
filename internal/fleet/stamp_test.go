package fleet

import (
	"testing"

	"packwright/internal/journal"
	"packwright/internal/judge"
)

func TestClockOff(t *testing.T) {
	const now = day0
	for _, c := range []struct {
		name            string
		raw, stamp, now int64
		want            bool
	}{
		{"right", now, now, now, false},
		{"stamp a day ahead", now, now + dayMS, now + 2*dayMS, false},
		{"stamp more than a day ahead", now, now + dayMS + 1, now + 2*dayMS, true},
		{"followed a stamp from beyond now", now, now + 800*dayMS, now, false},
		{"at the first day", earliestMS, earliestMS, now, false},
		{"before the first day", earliestMS - 1, earliestMS - 1, now, true},
		{"1970", 0, now, now, true},
		{"a day after now", now + dayMS, now + dayMS, now, false},
		{"more than a day after now", now + dayMS + 1, now + dayMS + 1, now, true},
		{"no present, followed another stamp", now, now + 800*dayMS, 0, false},
		{"no present, 1970", 0, now, 0, true},
		{"stamp far behind the clock", now, now - 2*dayMS, now, true},
	} {
		if got := clockOff(c.raw, c.stamp, c.now); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// A phone at 2099 wins until somebody who has seen it answers.
func TestWrongClocksKeepCausality(t *testing.T) {
	fast, right, slow := newPhone(t, "fast"), newPhone(t, "right"), newPhone(t, "slow")
	fast.nowMS, slow.nowMS = 4_070_908_800_000, 0
	first := fast.makes(journal.DirectReading, packA, reading(0.15))
	right.sees(first)
	second := right.makes(journal.DirectReading, packA, reading(0.05))
	slow.sees(second)
	third := slow.makes(journal.DirectReading, packA, reading(0.3))

	pack := mustPack(t, folded(third, first, second), packA, right.nowMS)
	if pack.Outcome != judge.SetAside || pack.Tests[0].Entry != third.ID || pack.Tests[2].Entry != first.ID {
		t.Errorf("%s, %+v", pack.Outcome, pack.Tests)
	}
	for i, off := range []bool{true, false, true} {
		if pack.Tests[i].ClockOff != off {
			t.Errorf("test %d of %s: clock off %v", i, pack.Tests[i].Device, pack.Tests[i].ClockOff)
		}
	}
	if pack.DaysSinceTest != nil || pack.Attention != "set aside: resistance too high" {
		t.Errorf("%v days, %q", pack.DaysSinceTest, pack.Attention)
	}
	mended := slow.makes(journal.DirectReading, packA, reading(0.05))
	row := mustPack(t, folded(third, first, second, mended), packA, right.nowMS).Row
	if row.Attention != "date of the last test unknown" {
		t.Errorf("%q", row.Attention)
	}
}
