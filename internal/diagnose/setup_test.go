package diagnose

import (
	"testing"

	"packwright/internal/cells"
)

// shifted multiplies what all packs show on some of their tests.
func shiftedBy(packs []Pack, factor float64, tests ...int) []Pack {
	for i := range packs {
		for _, k := range tests {
			packs[i].Tests[k].ResistanceOhm *= factor
		}
	}
	return packs
}

func TestSetUpDay(t *testing.T) {
	for _, c := range []struct {
		what  string
		packs []Pack
		days  int
	}{
		{"12 % up", shiftedBy(sisters(6, 12), 1.12, 6), 1},
		{"12 % down", shiftedBy(sisters(6, 12), 0.88, 6), 1},
		{"three packs", shiftedBy(sisters(3, 12), 1.12, 6), 1},
		{"two packs are too few", shiftedBy(sisters(2, 12), 1.12, 6), 0},
		{"3 %", shiftedBy(sisters(6, 12), 1.03, 6), 0},
		{"two days running", shiftedBy(sisters(6, 14), 1.15, 6, 7), 2},
		{"the latest day", shiftedBy(sisters(6, 12), 1.12, 11), 1},
		{"only one pack", append(sisters(5, 12), shiftedBy(sisters(6, 12), 1.12, 6)[5]), 0},
	} {
		days := SetUpDays(c.packs, Rules{})
		if len(days) != c.days {
			t.Errorf("%s: %+v, want %d days", c.what, days, c.days)
			continue
		}
		for _, d := range days {
			if d.Stays || len(d.Packs) != len(c.packs) || d.Finding.Cause != SetUp || len(d.Finding.Tests) != len(c.packs) {
				t.Errorf("%s: %+v", c.what, d)
			}
		}
		if c.days > 0 {
			for _, p := range c.packs { // and it is nothing else
				if r := Survey(c.packs, Rules{}).Examine(p.Code, 0.1, nil); len(r.Findings) != c.days || find(r, SetUp) == nil {
					t.Errorf("%s, %s: %+v", c.what, p.Code, r.Findings)
				}
			}
		}
	}
}

func TestReferencePack(t *testing.T) {
	packs := shiftedBy(sisters(6, 12), 1.12, 6)
	rules := Rules{ReferencePack: "S2"}
	if days := SetUpDays(packs, rules); len(days) != 1 || days[0].Finding.Confidence != Plain {
		t.Errorf("the reference pack shows it: %+v", days)
	}
	packs[2].Tests[6].ResistanceOhm /= 1.12
	if days := SetUpDays(packs, rules); len(days) != 0 {
		t.Errorf("the reference pack does not show it: %+v", days)
	}
	if days := SetUpDays(packs, Rules{ReferencePack: "S9"}); len(days) != 1 || days[0].Finding.Confidence != Likely {
		t.Errorf("the reference pack was not tested: %+v", days)
	}
}

// A cold hall is no fault of the set-up: 16 °C makes all packs read 11 % higher (2.6 %
// per °C, calculated from a published 6.5 Ah module).
func TestColdHallIsNoSetUpDay(t *testing.T) {
	packs := sisters(6, 12)
	for i := range packs {
		packs[i].Tests[6].TemperatureC = new(16.0)
		packs[i].Tests[6].ResistanceOhm *= cells.ResistanceRatio(16)
	}
	if days := SetUpDays(packs, Rules{}); len(days) != 0 {
		t.Errorf("%+v", days)
	}
	for i := range packs { // the same hall, and nobody noted it
		for k := range packs[i].Tests {
			packs[i].Tests[k].TemperatureC = nil
		}
	}
	if days := SetUpDays(packs, Rules{}); len(days) != 1 || days[0].Finding.Confidence != Possible {
		t.Errorf("%+v", days)
	}
}

// A set-up that changed for good makes neither contacts nor ageing of all packs.
func TestSetUpThatChanged(t *testing.T) {
	packs := shiftedBy(sisters(6, 16), 1.15, 8, 9, 10, 11, 12, 13, 14, 15)
	days := SetUpDays(packs, Rules{})
	if len(days) != 1 || !days[0].Stays || days[0].AtMS != packs[0].Tests[8].AtMS {
		t.Fatalf("%+v", days)
	}
	for _, p := range packs {
		is(t, p.Code, Survey(packs, Rules{}).Examine(p.Code, 0.1, nil), SetUp, Likely, false)
	}
	for i := range packs { // with another load it is another series anyway
		for k := 8; k < 16; k++ {
			packs[i].Tests[k].LoadOhm, packs[i].Tests[k].Rig = 5, "new load"
		}
	}
	if days := SetUpDays(packs, Rules{}); len(days) != 0 {
		t.Errorf("%+v", days)
	}
}
