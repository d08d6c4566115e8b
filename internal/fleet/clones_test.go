package fleet

import (
	"slices"
	"testing"

	"packwright/internal/journal"
)

// A phone was copied to another: both go on with one device id and one clock. All
// their entries are kept, and the id is named; in whatever order they come.
func TestClones(t *testing.T) {
	before := newPhone(t, "copied").makes(journal.PackAdded, packA, `{"name":"Heron 1"}`)
	one, two := newPhone(t, "copied"), newPhone(t, "copied")
	one.count, two.count = 10, 20 // their random bytes differ
	one.sees(before)
	two.sees(before)
	a := one.makes(journal.Noted, packA, `{"text":"from one"}`)
	b := two.makes(journal.Noted, packA, `{"text":"from the other"}`)
	other := newPhone(t, "another").makes(journal.Noted, packA, `{"text":"at the same time"}`)
	if a.HLC != b.HLC || a.ID == b.ID {
		t.Fatalf("no clones: %+v, %+v", a, b)
	}
	for _, entries := range [][]journal.Entry{{before, a, b, other}, {other, b, before, a}} {
		f := folded(entries...)
		o := f.Overview(one.nowMS)
		if !slices.Equal(o.Clones, []string{"copied"}) || f.Len() != 4 || len(mustPack(t, f, packA, one.nowMS).Notes) != 3 {
			t.Errorf("clones %q, %d entries", o.Clones, f.Len())
		}
	}
	if o := folded(before, a, a, other).Overview(one.nowMS); o.Clones == nil || len(o.Clones) != 0 {
		t.Errorf("no second phone, and yet %q", o.Clones)
	}
}
