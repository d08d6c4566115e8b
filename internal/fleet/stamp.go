package fleet

import (
	"bytes"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/place"
)

const (
	dayMS      = 24 * 60 * 60 * 1000
	earliestMS = 1_577_836_800_000 // 2020-01-01: no entry is older than this program
)

// stamp says where an entry came from. nowMS 0 means that the present is unknown.
func (f *Fleet) stamp(it *item, nowMS int64) Stamp {
	s := Stamp{Entry: it.ID, By: it.By, Device: it.Device}
	s.AtMS, s.ClockOff = f.at(it, nowMS)
	if v := f.voidedBy[it.ID]; v != nil {
		s.Voided, s.VoidedBy, s.VoidedWith = true, v.ID, f.voidedWith[it.ID]
	}
	return s
}

// at is when it happened by the device's raw clock, or by the person who typed
// it in later, and whether that is plainly wrong.
func (f *Fleet) at(it *item, nowMS int64) (ms int64, off bool) {
	t := it.times()
	if t.hasTaken {
		return t.takenMS, nowMS > 0 && t.takenMS > nowMS+dayMS
	}
	if noon, ok := it.day(f.clock); ok {
		return min(noon, t.stampMS), false
	}
	if t.noRaw {
		return 0, true
	}
	return t.rawMS, clockOff(t.rawMS, t.stampMS, nowMS)
}

// times are those that an entry names, read once.
type times struct {
	rawMS, stampMS, takenMS int64 // unix ms
	read, noRaw, hasTaken   bool
}

func (it *item) times() *times {
	t := &it.named
	if t.read {
		return t
	}
	t.read = true
	raw, err := journal.IDTime(it.ID)
	t.rawMS, t.noRaw = raw, err != nil
	if s, err := journal.ParseStamp(it.HLC); err == nil {
		t.stampMS = s.MS
	}
	t.takenMS, t.hasTaken = it.taken()
	return t
}

// clockOff says whether a device's raw clock was plainly wrong. That is so if
// it showed a time before 2020 or more than a day after now, or if it differs
// by more than a day from the stamp, which is never behind the clocks that the
// device had heard of. A stamp from beyond now is no evidence: it was another
// device that ran ahead, and this one only followed it.
func clockOff(rawMS, stampMS, nowMS int64) bool {
	switch {
	case rawMS < earliestMS, rawMS > stampMS+dayMS:
		return true
	case nowMS == 0:
		return false
	case rawMS > nowMS+dayMS:
		return true
	}
	return stampMS > rawMS+dayMS && stampMS <= nowMS+dayMS
}

// testOrder gives a text that sorts tests by the time they were taken: the
// clock stamp, or for a test typed in later the time written on the paper. A
// test cannot be younger than its entry.
func (it *item) testOrder() string {
	t := it.times()
	if !t.hasTaken {
		return it.HLC
	}
	return min(journal.Stamp{MS: max(t.takenMS, 0)}.String(), it.HLC)
}

// taken is the time in a test's body, where there is one.
func (it *item) taken() (ms int64, ok bool) {
	if !it.isTest() || !bytes.Contains(it.Body, []byte(`"taken_at"`)) { // most have none, and need no decoding
		return 0, false
	}
	switch b := it.content().(type) {
	case *loadtest.Test:
		return place.TimeMS(b.TakenAt)
	case *loadtest.Direct:
		return place.TimeMS(b.TakenAt)
	}
	return 0, false
}
