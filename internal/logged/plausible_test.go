package logged

import (
	"fmt"
	"strings"
	"testing"

	"packwright/internal/loadtest"
)

func warning(list []loadtest.Warning, code string) string {
	for _, w := range list {
		if w.Code == code {
			return w.Text + " | " + w.Hint
		}
	}
	return ""
}

// TestNotPack: a log of minutes that is read as seconds gets no verdict on the pack, and
// is told the unit that fits; so is one of seconds that is read as hours.
func TestNotPack(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,volts\n")
	for i := range 102 {
		fmt.Fprintf(&b, "%d,%.2f\n", i, 12.6-float64(i)*2.7/101)
	}
	o := Options{RatedAh: 3, LoadOhm: 10}
	at := func(unit TimeUnit) Result {
		p, err := Look([]byte(b.String()), true, 10, nil)
		if err != nil {
			t.Fatal(err)
		}
		p.Format.TimeUnit = unit
		a, err := Open(p.Format, o)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = a.Write([]byte(b.String()))
		r, err := a.Finish()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	for unit, want := range map[TimeUnit]string{Seconds: "in minutes it would be 61 %", Hours: "in minutes it would be 61 %", Milliseconds: "in minutes it would be 61 %"} {
		r := at(unit)
		if got := warning(r.Warnings, "not-pack"); r.Capacity.Verdict != NotPack || !strings.Contains(got, want) || !strings.HasPrefix(got, "this is not the pack's capacity: ") {
			t.Errorf("%s: %s, %q, want %q", unit, r.Capacity.Verdict, got, want)
		}
		if r.Capacity.NotCounted == "" {
			t.Errorf("%s: it counts", unit)
		}
	}
	if r := at(Minutes); r.Capacity.Verdict == NotPack || warning(r.Warnings, "not-pack") != "" {
		t.Errorf("minutes: %+v", r.Capacity)
	}
}

// TestHardlyOn: a log by hand in which the load was on for moments only.
func TestHardlyOn(t *testing.T) {
	rows := []Row{{0, 0, 12.6, nan}, {0, 4, 12.6, nan}, {0, 8, 12.6, nan}, {0, 12, 9.9, nan}}
	for name, c := range map[string]struct {
		full *bool
		want Verdict
	}{"full": {new(true), NotPack}, "not said": {nil, NotPack}, "not full": {new(false), AtEnd}} {
		r, err := run(Options{RatedAh: 3, LoadOhm: 10, FromFull: c.full}, rows)
		if err != nil || r.Capacity.Verdict != c.want {
			t.Errorf("%s: %s, want %s, %v", name, r.Capacity.Verdict, c.want, err)
		}
		if got := warning(r.Warnings, "not-pack"); (got != "") != (c.want == NotPack) || got != "" && !strings.Contains(got, "was the load on from a full charge") {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// TestBoundsOfShares: the shares on the bounds are still those of a pack.
func TestBoundsOfShares(t *testing.T) {
	for share, want := range map[float64]Verdict{9.99: NotPack, 10.01: AtEnd, 199.9: Good, 200.1: NotPack} {
		amps := 3 * share / 100 // for an hour, of 3 Ah
		rows := []Row{{0, 0, 12, amps}, {0, 3600, 10, amps}, {0, 3601, 9.9, amps}}
		zero := 0.0
		r, err := run(Options{RatedAh: 3, AmpPct: &zero, AmpZeroA: &zero, FromFull: new(true)}, rows)
		if err != nil || r.Capacity.Verdict != want {
			t.Errorf("%g %%: %s, want %s, %v", share, r.Capacity.Verdict, want, err)
		}
	}
}

func TestWhyNotCounted(t *testing.T) {
	share := &Estimate{Value: 80}
	for want, c := range map[string]struct {
		c    Capacity
		full *bool
	}{
		"":                            {Capacity{SharePct: share, Reached: true}, new(true)},
		"not known to have been full": {Capacity{SharePct: share, Reached: true}, nil},
		"not full at the start":       {Capacity{SharePct: share, Reached: true}, new(false)},
		"it ended above":              {Capacity{SharePct: share}, new(true)},
		"rated capacity is not":       {Capacity{Reached: true}, new(true)},
		"no such pack":                {Capacity{SharePct: share, Reached: true, Verdict: NotPack}, new(true)},
	} {
		if got := WhyNotCounted(&c.c, c.full); (got == "") != (want == "") || !strings.Contains(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
