package fleet

import (
	"bytes"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/judge"
)

// codes makes pack codes for tests.
func codes(t testing.TB, n int) []string {
	t.Helper()
	var list []string
	for i := range n {
		code, err := journal.NewCode(bytes.Repeat([]byte{byte(i), 0x5d, byte(7 * i), 0x31}, 8))
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, code)
	}
	return list
}

func TestAttention(t *testing.T) {
	p := newPhone(t, "one")
	code := codes(t, 12)
	var entries []journal.Entry
	add := func(i int, name string, later ...journal.Entry) {
		entries = append(entries, p.makes(journal.PackAdded, code[i], `{"name":"`+name+`"}`))
		entries = append(entries, later...)
	}
	tested := func(i int, ohm float64) journal.Entry { return p.makes(journal.DirectReading, code[i], reading(ohm)) }
	found := func(i int, finding string) journal.Entry {
		return p.makes(journal.Inspected, code[i], `{"finding":"`+finding+`"}`)
	}

	add(1, "very old", tested(1, 0.06))
	p.days(20)
	add(0, "old", tested(0, 0.06))
	p.days(35)
	add(2, "far below", tested(2, 0.05))
	add(3, "near below", tested(3, 0.09))
	add(4, "above", tested(4, 0.13))
	add(5, "undecided", tested(5, 0.1))
	add(6, "untested")
	add(7, "no usable test", p.makes(journal.LoadTest, code[7], nonsense))
	add(8, "beyond", tested(8, 0.3))
	add(9, "swollen", tested(9, 0.05), found(9, "swollen"))
	add(10, "loose", tested(10, 0.05), found(10, "loose-contact"))
	add(11, "retired", tested(11, 0.3), p.makes(journal.ProfileChanged, code[11], `{"retired":true}`))

	o := folded(entries...).Overview(p.nowMS)
	want := []struct{ name, attention string }{
		{"swollen", "do not use: swollen"},
		{"beyond", "set aside: resistance too high"},
		{"undecided", "retest: not decided"},
		{"no usable test", "no usable test yet"},
		{"untested", "no test yet"},
		{"very old", "last test 55 days ago"},
		{"old", "last test 35 days ago"},
		{"loose", "loose contact"},
		{"near below", ""},
		{"above", ""},
		{"far below", ""},
		{"retired", ""},
	}
	for i, w := range want {
		if got := o.Packs[i]; got.Name != w.name || got.Attention != w.attention {
			t.Errorf("place %d: %q %q, want %q %q", i+1, got.Name, got.Attention, w.name, w.attention)
		}
	}
	if c := (Counts{Competition: 5, Practice: 1, Retest: 1, SetAside: 2, Untested: 2, Retired: 1}); o.Counts != c {
		t.Errorf("counts %+v, want %+v", o.Counts, c)
	}
}

// The day after which a test is old: that many days and not a moment more.
func TestAttentionAtTheRetestDay(t *testing.T) {
	p := newPhone(t, "one")
	f := folded(p.makes(journal.DirectReading, packA, reading(0.05)))
	due := p.nowMS + int64(Defaults().RetestDays)*dayMS
	if row := f.Overview(due).Packs[0]; row.Attention != "" {
		t.Errorf("at the day itself: %q", row.Attention)
	}
	if row := f.Overview(due + 1).Packs[0]; row.Attention != "last test 30 days ago" {
		t.Errorf("a millisecond later: %q", row.Attention)
	}
}

// Where the display cannot show the sag, the row has the upper bound and says so.
func TestRowOfABound(t *testing.T) {
	p := newPhone(t, "one")
	test := p.makes(journal.LoadTest, packA, `{"method":"known-load","open_v":[12.8,12.8],"loaded_v":[12.8,12.7],"load_ohm":10,"load_tolerance_pct":1,"meter":{"reading_pct":0.5,"counts":1,"resolution_v":0.1}}`)
	row := folded(test).Overview(p.nowMS).Packs[0]
	if !row.BoundOnly || row.ResistanceOhm == nil || *row.ResistanceOhm <= 0 || row.ExpandedOhm != nil || row.Outcome == judge.Competition {
		t.Errorf("%+v", row)
	}
}

func TestEmptyFleet(t *testing.T) {
	o := New().Overview(day0)
	if o.Packs == nil || o.Notes == nil || len(o.Packs) != 0 || o.Counts != (Counts{}) {
		t.Errorf("%+v", o)
	}
}
