package journal

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"packwright/internal/edge"
)

// takes says whether an entry with this body is taken.
func takes(kind Kind, body string) bool {
	pack := testPack
	if kind.packUse() == packRefused {
		pack = ""
	}
	return made(kind, pack, body).Check() == nil
}

const (
	robotBody = `{"robot":{"rest_v":%s,"brownout_v":%s,"peak_a":%s}}`
	meterBody = `{"meter":{"reading_pct":%s,"counts":%s,"resolution_v":%s}}`
	loadBody  = `{"load":{"ohm":%s,%s"lead_ohm":%s,"rating_w":%s,"on_heat_sink":false}}`
)

// TestEdgesOfSettings: what a profile and the team's settings may be.
func TestEdgesOfSettings(t *testing.T) {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	refused := func(kind Kind, body func(v string) string) func(v float64) bool {
		return func(v float64) bool { return !takes(kind, body(number(v))) }
	}
	var limits []edge.Limit
	within := func(kind Kind, name string, low, high float64, body func(v string) string) {
		limits = append(limits, edge.Range(name, low, high, refused(kind, body))...)
	}
	field := func(name string) func(v string) string {
		return func(v string) string { return fmt.Sprintf(`{%q:%s}`, name, v) }
	}
	for _, c := range []struct {
		kind      Kind
		name      string
		low, high float64
	}{
		{ProfileChanged, "capacity_ah", 0.1, 200},
		{ProfileChanged, "fuse_a", 0.1, 500},
		{ProfileChanged, "lead_mm2", 0, 100},
		{ProfileChanged, "lead_length_mm", 0, 10_000},
		{TeamChanged, "competition_ohm", 0.001, 10},
		{TeamChanged, "practice_ohm", 0.001, 10},
		{TeamChanged, "read_after_s", 0.5, 120},
		{TeamChanged, "rest_min", 0, 7 * 24 * 60},
		{TeamChanged, "retest_days", 1, 730},
		{TeamChanged, "wanted_pct", 50, 99.9},
		{TeamChanged, "pack_price", 0, 1_000_000},
		{TeamChanged, "delivery_days", 0, 365},
		{TeamChanged, "capacity_good_pct", 10, 120},
		{TeamChanged, "capacity_end_pct", 10, 120},
		{TeamChanged, "charge_factor", 1, 2},
		{TeamChanged, "self_discharge_pct_month", 1, 100},
		{TeamChanged, "top_up_days", 7, 730},
		{TeamChanged, "condition_days", 7, 1460},
	} {
		within(c.kind, c.name, c.low, c.high, field(c.name))
	}
	within(TeamChanged, "robot.rest_v", 1, 100, func(v string) string { return fmt.Sprintf(robotBody, v, "0.5", "20") })
	within(TeamChanged, "robot.peak_a", 0.1, 1000, func(v string) string { return fmt.Sprintf(robotBody, "12.8", "8.8", v) })
	limits = append(limits, edge.Limit{Name: "robot.brownout_v", At: 0.5, Refused: refused(TeamChanged, func(v string) string { return fmt.Sprintf(robotBody, "12.8", v, "20") })})
	within(TeamChanged, "meter.reading_pct", 0, 20, func(v string) string { return fmt.Sprintf(meterBody, v, "2", "0.01") })
	within(TeamChanged, "meter.counts", 0, 1000, func(v string) string { return fmt.Sprintf(meterBody, "0.5", v, "0.01") })
	within(TeamChanged, "meter.resolution_v", 1e-7, 1, func(v string) string { return fmt.Sprintf(meterBody, "0.5", "2", v) })
	within(TeamChanged, "load.ohm", 0.01, 10_000, func(v string) string { return fmt.Sprintf(loadBody, v, "", "0", "25") })
	within(TeamChanged, "load.tolerance_pct", 0, 50, func(v string) string { return fmt.Sprintf(loadBody, "10", `"tolerance_pct":`+v+",", "0", "25") })
	within(TeamChanged, "load.uncertainty_ohm", 0, 10, func(v string) string { return fmt.Sprintf(loadBody, "10", `"uncertainty_ohm":`+v+",", "0", "25") })
	within(TeamChanged, "load.tempco_ppm_k", 0, 10_000, func(v string) string { return fmt.Sprintf(loadBody, "10", `"tempco_ppm_k":`+v+",", "0", "25") })
	within(TeamChanged, "load.lead_ohm", 0, 10, func(v string) string { return fmt.Sprintf(loadBody, "10", "", v, "25") })
	within(TeamChanged, "load.rating_w", 0, 10_000, func(v string) string { return fmt.Sprintf(loadBody, "10", "", "0", v) })
	edge.Check(t, limits)
	if !takes(TeamChanged, `{"practice_ohm":0}`) {
		t.Error("a practice limit of 0, derived from the robot, was refused")
	}
}

// TestEdgesOfCountsAndTexts: whole numbers, dates and lengths, at the limit and
// one beyond.
func TestEdgesOfCountsAndTexts(t *testing.T) {
	text := func(n int) string { return strings.Repeat("Ω", n) }
	for _, c := range []struct {
		kind            Kind
		body            string // with a place for the value
		within, without string
	}{
		{ProfileChanged, `{"cells":%s}`, "1", "0"},
		{ProfileChanged, `{"cells":%s}`, "40", "41"},
		{TeamChanged, `{"repeats":%s}`, "1", "0"},
		{TeamChanged, `{"repeats":%s}`, "30", "31"},
		{ProfileChanged, `{"in_service":"%s"}`, "1980-01-01", "1979-12-31"},
		{ProfileChanged, `{"in_service":"%s"}`, "2199-12-31", "2200-01-01"},
		{ProfileChanged, `{"name":"%s"}`, text(60), text(61)},
		{ProfileChanged, `{"connector":"%s"}`, text(60), text(61)},
		{TeamChanged, `{"base_url":"https://%s"}`, strings.Repeat("a", 92), strings.Repeat("a", 93)},
		{ProfileChanged, `{"retired_why":"%s"}`, text(1000), text(1001)},
		{TeamChanged, `{"event_name":"%s"}`, text(60), text(61)},
		{TeamChanged, `{"event_date":"%s"}`, "2199-12-31", "2200-01-01"},
		{TeamChanged, `{"wanted_packs":%s}`, "0", "-1"},
		{TeamChanged, `{"wanted_packs":%s}`, "500", "501"},
		{TeamChanged, `{"currency":"%s"}`, text(60), text(61)},
		{TeamChanged, `{"reference_pack":"%s"}`, strings.Repeat("A", 16), strings.Repeat("A", 17)},
		{TeamChanged, `{"capacity_good_pct":70,"capacity_end_pct":%s}`, "70", "70.01"},
		{Noted, `{"text":"%s"}`, text(4000), text(4001)},
		{Inspected, `{"finding":"hot","text":"%s"}`, text(1000), text(1001)},
		{FindingClosed, `{"entry":"` + otherID + `","text":"%s"}`, text(1000), text(1001)},
		{Voided, `{"entry":"` + otherID + `","reason":"%s"}`, text(1000), text(1001)},
		{LoadTest, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"note":"%s"}`, text(4000), text(4001)},
		{DirectReading, `{"method":"direct-dc","resistance_ohm":[0.05],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"note":"%s"}`, text(4000), text(4001)},
	} {
		if !takes(c.kind, fmt.Sprintf(c.body, c.within)) {
			t.Errorf("%s "+c.body+" is refused at the limit", c.kind, c.within)
		}
		if takes(c.kind, fmt.Sprintf(c.body, c.without)) {
			t.Errorf("%s "+c.body+" is taken beyond the limit", c.kind, c.without)
		}
	}
}
