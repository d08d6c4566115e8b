package season

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/logged"
	"packwright/internal/trend"
)

func TestBounds(t *testing.T) {
	empty := newDiary(t)
	if b := empty.board(0, BoardRequest{}); len(b.Rows) != 0 || b.Plan.Now != 0 || b.Recycling == "" || b.Plan.Buy.Packs < 4 {
		t.Errorf("an empty fleet: %s", text(t, &b))
	}
	if _, err := New(empty.fleet).Health(packA, day0); err == nil || err.Error() != "there is no pack "+packA {
		t.Errorf("an unknown pack: %v", err)
	}

	for _, n := range []int{0, 1, 2, 10_000} {
		d := newDiary(t)
		d.write(0, journal.PackAdded, packA, `{}`) // no name, no cells
		for i := range n {
			d.test(1+float64(i)/25, packA, 0.08)
		}
		h := d.health(packA, 500)
		text(t, &h)
		if h.Trend == nil || len(h.Points) != n || (h.Baseline == nil) != (n == 0) || (len(h.Drive) > 0) != (n > 0) {
			t.Errorf("%d tests: %q, %d points, baseline %v, %d answers", n, h.Problem, len(h.Points), h.Baseline, len(h.Drive))
		}
		if n < 5 && (h.Trend.Outcome != trend.TooFew || len(h.Band) != 0) {
			t.Errorf("%d tests: %s, %d points of a band", n, h.Trend.Outcome, len(h.Band))
		}
		b := d.board(500, BoardRequest{})
		if len(b.Rows) != 1 || b.Rows[0].Code != packA || (b.Rows[0].Ohm == nil) != (n == 0) {
			t.Errorf("%d tests: %s", n, text(t, &b))
		}
		for i := range b.Plan.Test {
			if b.Plan.Test[i].Name != packA {
				t.Errorf("a pack without a name is called %q", b.Plan.Test[i].Name)
			}
		}
	}

	same := newDiary(t) // all at one time, as from a table without times
	same.add(0, packA, "Heron 1")
	for i := range 8 {
		same.write(1, journal.LoadTest, packA, testBody(0.08+float64(i)/1000, `,"taken_at":"2026-08-01T12:00:00Z"`))
	}
	if h := same.health(packA, 2); h.Trend == nil || h.Trend.Outcome != trend.TooFew || len(h.Points) != 8 || h.Baseline.ChangePct != nil {
		t.Errorf("equal times: %s", text(t, &h))
	}
}

// What cannot be used has its reason and spoils nothing.
func TestOddTests(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	for i := range 6 {
		d.test(float64(1+10*i), packA, 0.08)
	}
	voided := d.test(70, packA, 0.3)
	d.write(70.1, journal.Voided, packA, fmt.Sprintf(`{"entry":%q}`, voided.ID))
	unknown := d.write(71, journal.LoadTest, packA, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.9],"load_ohm":2.5,"meter":{"reading_pct":0.1,"counts":2,"resolution_v":0.01},"charge":"full"}`)
	ac := d.write(72, journal.DirectReading, packA, `{"method":"direct-ac","resistance_ohm":[0.05],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"charge":"full"}`)
	ahead := d.write(73, journal.LoadTest, packA, testBody(0.08, `,"taken_at":"2030-01-01T12:00:00Z"`))
	absurd := d.write(74, journal.LoadTest, packA, strings.Replace(testBody(0.08, ""), `"charge"`, `"temperature_c":500,"charge"`, 1))

	h := d.health(packA, 80)
	if h.Trend == nil || len(h.Trend.Series.Occasions) != 6 || h.Trend.Outcome != trend.NoTrend {
		t.Fatalf("%q %+v", h.Problem, h.Trend)
	}
	reasons := map[string]string{}
	for _, a := range h.Trend.Series.Aside {
		reasons[a.Test] = a.Reason
	}
	for id, want := range map[string]string{
		voided.ID: "it was voided", unknown.ID: "", ahead.ID: "the clock of the phone was wrong, so its time is not known",
		ac.ID: "the series is of another kind of test than a.c. readings of an instrument", absurd.ID: "a pack at 500 °C is not possible",
	} {
		if got, ok := reasons[id]; !ok || want != "" && got != want {
			t.Errorf("%s: %q, want %q", id, got, want)
		}
	}
	used := 0
	for _, p := range h.Points {
		if p.Used {
			used++
		}
		if p.Used == (p.Reason != "") || p.Test == unknown.ID || p.Test == ahead.ID {
			t.Errorf("%+v", p)
		}
	}
	if used != 6 || len(h.Points) != 9 {
		t.Errorf("%d of %d points used", used, len(h.Points))
	}
}

func TestBaselineStartsAnewAfterRepair(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	for i := range 6 {
		d.test(float64(1+10*i), packA, []float64{0.080, 0.084, 0.082, 0.09, 0.09, 0.0902}[i])
	}
	h := d.health(packA, 60)
	if b := h.Baseline; math.Abs(b.Ohm-0.082) > 1e-4 || len(b.Tests) != 3 || b.SinceMS != int64(day0+dayMS) || math.Abs(*b.ChangePct-10) > 0.2 ||
		b.Text != "0.082 Ω, median of the first 3 comparable tests; the latest is 10 % above it" {
		t.Errorf("%s", text(t, b))
	}
	other := d.write(61, journal.Repaired, packA, `{"part":"other","text":"new sleeve"}`)
	if after := d.health(packA, 62); after.Baseline.Ohm != h.Baseline.Ohm {
		t.Errorf("after a repair that changes nothing, %s: %s", other.ID, text(t, after.Baseline))
	}
	lead := d.write(62, journal.Repaired, packA, `{"part":"lead","text":"new crimp"}`)
	if after := d.health(packA, 63); after.Baseline != nil || after.Trend.Outcome != trend.TooFew {
		t.Errorf("no test since: %s", text(t, after.Baseline))
	}
	d.test(64, packA, 0.07)
	after := d.health(packA, 65)
	if b := after.Baseline; math.Abs(b.Ohm-0.07) > 1e-4 || b.SinceMS != int64(day0+62*dayMS) || b.ChangePct != nil || b.Text != "0.07 Ω, median of the first 1 comparable test since the repair" {
		t.Errorf("%s", text(t, b))
	}
	d.write(66, journal.Voided, packA, fmt.Sprintf(`{"entry":%q}`, lead.ID))
	if again := d.health(packA, 67); math.Abs(again.Baseline.Ohm-0.082) > 1e-4 {
		t.Errorf("the repair was voided: %s", text(t, again.Baseline))
	}
}

func TestAt20C(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	for i := range 6 {
		d.write(float64(1+10*i), journal.LoadTest, packA, testBody(0.08, `,"temperature_c":30`))
	}
	d.write(60, journal.TeamChanged, "", `{"to_20c":true}`)
	h := d.health(packA, 61)
	if p := h.Points[0]; !p.Used || math.Abs(p.Ohm-0.08) > 1e-4 || math.Abs(p.UsedOhm-0.08*math.Exp(0.26)) > 2e-4 {
		t.Errorf("%+v", p)
	}
	if math.Abs(h.Trend.Series.Occasions[0].Ohm-h.Points[0].UsedOhm) > 1e-12 {
		t.Errorf("the trend used %v, the plot says %v", h.Trend.Series.Occasions[0].Ohm, h.Points[0].UsedOhm)
	}
}

func TestCapacity(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	run := func(day float64, purpose string, seconds int) {
		var rows strings.Builder
		for s := 0; s <= seconds; s += 300 {
			fmt.Fprintf(&rows, `{"time_s":%d,"volts":12},`, s)
		}
		fmt.Fprintf(&rows, `{"time_s":%d,"volts":9},{"time_s":%d,"volts":9}`, seconds+1, seconds+100)
		d.write(day, journal.RunLogged, packA, fmt.Sprintf(`{"purpose":%q,"options":{"cells":0,"load_ohm":12,"load_tolerance_pct":1,"from_full":true},"rows":[%s]}`, purpose, rows.String()))
	}
	if h := d.health(packA, 1); h.Capacity != nil {
		t.Errorf("none: %s", text(t, h.Capacity))
	}
	run(1, "drive", 3600)
	run(2, "capacity", 9000)
	h := d.health(packA, 3)
	// 1 A for 2.5 h of 3 Ah.
	if c := h.Capacity; c == nil || math.Abs(c.SharePct-83.3) > 0.1 || !(c.PlusPct > 0.5 && c.PlusPct < 5) || c.Verdict != logged.Good || c.AtMS != int64(day0+2*dayMS) {
		t.Errorf("%s", text(t, c))
	}
	run(4, "capacity", 5400)
	if b := d.board(5, BoardRequest{}); b.Rows[0].CapacityPct == nil || math.Abs(*b.Rows[0].CapacityPct-50) > 0.1 {
		t.Errorf("%s", text(t, &b.Rows[0]))
	}
	// Broken off after half an hour, or begun with less: the pack holds what it did.
	d.write(6, journal.RunLogged, packA, `{"purpose":"capacity","options":{"cells":0,"load_ohm":12,"from_full":true},"rows":[{"time_s":0,"volts":12.5},{"time_s":900,"volts":12.4},{"time_s":1800,"volts":12.3}]}`)
	d.write(7, journal.RunLogged, packA, `{"purpose":"capacity","options":{"cells":0,"load_ohm":12,"from_full":false},"rows":[{"time_s":0,"volts":12},{"time_s":900,"volts":12},{"time_s":901,"volts":9},{"time_s":999,"volts":9}]}`)
	if c := d.health(packA, 8).Capacity; c == nil || math.Abs(c.SharePct-50) > 0.1 {
		t.Errorf("after checks that tell nothing: %s", text(t, c))
	}
}

// What was voided says nothing.
func TestVoidedEventsSayNothing(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	for i := range 3 {
		d.test(float64(1+i), packA, 0.08)
	}
	want := d.health(packA, 20)
	for i, c := range []struct {
		kind journal.Kind
		body string
	}{
		{journal.Repaired, `{"part":"lead","text":"new crimp"}`},
		{journal.Charged, `{"started_at":"2026-09-05T10:00:00Z","ended_at":"2026-09-05T12:00:00Z","purpose":"use","put_in_ah":9,"ended":"full"}`},
		{journal.RunLogged, `{"purpose":"capacity","options":{"cells":10,"load_ohm":12,"from_full":true},"rows":[{"time_s":0,"volts":12},{"time_s":60,"volts":12},{"time_s":61,"volts":9},{"time_s":99,"volts":9}]}`},
		{journal.Wiggled, `{"load_ohm":2.5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.001},"spots":[{"place":"still","low_v":12,"high_v":12},{"place":"fuse","low_v":9,"high_v":12}]}`},
		{journal.LoadTest, testBody(0.2, "")},
	} {
		e := d.write(float64(5+i), c.kind, packA, c.body)
		with := d.health(packA, 20)
		if text(t, &with) == text(t, &want) {
			t.Errorf("a %s entry changes nothing", c.kind)
		}
		d.write(float64(5+i)+0.5, journal.Voided, packA, fmt.Sprintf(`{"entry":%q}`, e.ID))
		without := d.health(packA, 20)
		// A voided test stays visible, with its reason.
		without.Points, want.Points, without.Trend, want.Trend = nil, nil, nil, nil
		if h := New(d.fleet).look(packA, day0+20*dayMS).history; len(h.Repairs)+len(h.Charges)+len(h.Capacities)+len(h.Wiggles) > 0 {
			t.Errorf("a voided %s entry is told to diagnose: %+v", c.kind, h)
		}
		if got := text(t, &without); got != text(t, &want) {
			t.Errorf("a voided %s entry:\n got %s\nwant %s", c.kind, got, text(t, &want))
		}
	}
}

// The answers depend on the set of entries alone: a season that was asked after
// every entry says the same in the end as one that is asked once.
func TestKeptAndFreshAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDiary(t)
		for _, code := range []string{packA, packB} {
			d.add(0, code, "Heron")
		}
		var ids []string
		for i := range rapid.IntRange(0, 20).Draw(t, "n") {
			code := rapid.SampledFrom([]string{packA, packB}).Draw(t, "code")
			day := float64(1 + 10*i)
			var e journal.Entry
			switch rapid.IntRange(0, 8).Draw(t, "kind") {
			case 0:
				e = d.write(day, journal.Repaired, code, `{"part":"lead","text":"new crimp"}`)
			case 1:
				e = d.write(day, journal.TeamChanged, "", fmt.Sprintf(`{"competition_ohm":%v}`, rapid.SampledFrom([]float64{0.07, 0.1}).Draw(t, "limit")))
			case 2:
				if len(ids) > 0 {
					e = d.write(day, journal.Voided, rapid.SampledFrom([]string{packA, ""}).Draw(t, "under"), fmt.Sprintf(`{"entry":%q}`, rapid.SampledFrom(ids).Draw(t, "target")))
				}
			case 3:
				e = d.write(day, journal.ProfileChanged, code, fmt.Sprintf(`{"retired":%t}`, rapid.Bool().Draw(t, "retired")))
			case 4:
				e = d.write(day, journal.LoadTest, code, testBody(0.08, `,"taken_at":"2027-01-01T12:00:00Z"`)) // perhaps ahead
			default:
				e = d.test(day, code, 0.08+0.001*float64(i))
			}
			if e.ID != "" {
				ids = append(ids, e.ID)
			}
		}
		nows := []int64{day0 - dayMS, day0 + 50*dayMS, day0 + 500*dayMS}
		ask := func(s *Season, now int64) (all string) {
			b, err := s.Board(BoardRequest{NowMS: now})
			all = fmt.Sprint(text(d.t, &b), err)
			for _, code := range []string{packA, packB} {
				h, err := s.Health(code, now)
				all += fmt.Sprint(text(d.t, &h), err)
			}
			return all
		}
		f := fleet.New()
		kept := New(f)
		for _, e := range rapid.Permutation(d.entries).Draw(t, "arriving") {
			f.Add(e)
			if rapid.Bool().Draw(t, "look") {
				ask(kept, rapid.SampledFrom(nows).Draw(t, "now"))
			}
		}
		for _, now := range nows {
			want := ask(New(d.fleet), now)
			for range 2 {
				if got := ask(kept, now); got != want {
					t.Fatalf("at %d:\n got %s\nwant %s", now, got, want)
				}
			}
		}
	})
}
