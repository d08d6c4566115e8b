package stock

import (
	"slices"
	"strings"
	"testing"
)

// What was mended is tested before all else, for that reason alone; what is held back by
// something graver is not on the list.
func TestMendedFirst(t *testing.T) {
	worst := Pack{Code: "W", Name: "worst", Untested: true, Findings: 5, Closeness: ptr(0.0), Rising: true, CrossingMS: ptr(nowMS + day), DaysSinceTest: ptr(900.0)}
	mended := Pack{Code: "M", Name: "mended", Mended: "mended on 24 Nov 2026, not tested since", Closeness: ptr(1.2), DaysSinceTest: ptr(2.0)}
	held := Pack{Code: "H", Name: "held", Held: true, DaysSinceTest: ptr(900.0)}
	q := ask()
	q.ThenMS = nowMS + 5*day
	p := Compute([]Pack{held, worst, mended}, q)
	if len(p.Test) != 2 || p.Test[0].Code != "M" || !slices.Equal(p.Test[0].Why, []string{mended.Mended}) || p.Test[1].Code != "W" {
		t.Errorf("%+v", p.Test)
	}
	if !slices.ContainsFunc(p.Rules, func(s string) bool { return strings.Contains(s, "not counted on: mended.") }) {
		t.Errorf("%q", p.Rules)
	}
	if p = Compute([]Pack{worst}, q); slices.ContainsFunc(p.Rules, func(s string) bool { return strings.Contains(s, "not counted on") }) {
		t.Errorf("%q", p.Rules)
	}
}
