package journal

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"packwright/internal/problem"
)

const (
	testPack = "7K3QXX" // X is the check character of 7K3QX by MOD 37,36
	otherID  = "01ARYZ6S41TSV4RRFFQ69G5FB0"
)

// made is an entry of a kind with a body, well-formed otherwise.
func made(kind Kind, pack, body string) Entry {
	return Entry{ID: "01ARYZ6S41TSV4RRFFQ69G5FAV", V: 1, Kind: kind, Pack: pack, Device: "phone-1", By: "MK", HLC: "1469918176385-0000", Body: json.RawMessage(body)}
}

func TestCheckTakes(t *testing.T) {
	for _, c := range []struct {
		kind       Kind
		pack, body string
	}{
		{PackAdded, testPack, `{}`},
		{PackAdded, testPack, `{"name":"Heron 1","capacity_ah":3,"cells":10,"in_service":"2026-09-01","fuse_a":20,"lead_mm2":2.5,"lead_length_mm":250,"connector":"flat two-pole, 50 A","retired":false}`},
		{ProfileChanged, testPack, `{"retired":true}`},
		{ProfileChanged, testPack, `{"in_service":""}`},
		{LoadTest, testPack, `{"method":"known-load","open_v":[12.84,12.83],"loaded_v":[12.71,12.70],"load_ohm":10,"load_tolerance_pct":5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"read_after_s":5,"temperature_c":21,"charge":"full","rested_min":90,"taken_at":"2026-11-01T10:00:00+01:00","note":"bench"}`},
		{DirectReading, testPack, `{"method":"direct-ac","resistance_ohm":[0.0512],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"frequency_hz":1000}`},
		{Noted, "", `{"text":"x"}`},
		{Noted, testPack, `{"text":"` + strings.Repeat("Ω", 4000) + `"}`},
		{Inspected, testPack, `{"finding":"swollen"}`},
		{Inspected, testPack, `{"finding":"other-safety","text":"smells"}`},
		{FindingClosed, testPack, `{"entry":"` + otherID + `","text":"new sleeve"}`},
		{TeamChanged, "", `{"name":"Team Heron","competition_ohm":0.1,"practice_ohm":0,"robot":{"rest_v":12.8,"brownout_v":8.8,"peak_a":20},"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"load":{"name":"bench","ohm":2.5,"uncertainty_ohm":0.005,"lead_ohm":0,"rating_w":100,"on_heat_sink":true},"read_after_s":5,"repeats":3,"rest_min":60,"retest_days":30,"base_url":"https://pit.local"}`},
		{Voided, testPack, `{"entry":"` + otherID + `"}`},
		{Voided, "", `{"entry":"` + otherID + `","reason":"wrong pack"}`},
	} {
		if err := made(c.kind, c.pack, c.body).Check(); err != nil {
			t.Errorf("%s %s: %v", c.kind, c.body, err)
		}
	}
}

func TestCheckRefuses(t *testing.T) {
	for _, c := range []struct {
		kind       Kind
		pack, body string
		field      string
		want       string
	}{
		{PackAdded, "", `{}`, "pack", "a pack-added entry needs a pack"},
		{LoadTest, "", `{}`, "pack", "a load-test entry needs a pack"},
		{TeamChanged, testPack, `{"repeats":3}`, "pack", "team-changed entries are not about one pack"},

		{PackAdded, testPack, `{"volts":12}`, "volts", "volts: this field is not known"},
		{PackAdded, testPack, `{"Name":"x"}`, "Name", "Name: this field is not known"},
		{PackAdded, testPack, `{"name":7}`, "name", "name: a number does not fit here"},
		{PackAdded, testPack, `{"cells":9.5}`, "cells", "cells: 9.5 is not a whole number that fits here"},
		{PackAdded, testPack, `{"cells":0}`, "cells", "the number of cells of 0 is out of range: 1 to 40"},
		{PackAdded, testPack, `{"cells":41}`, "cells", "the number of cells of 41 is out of range: 1 to 40"},
		{PackAdded, testPack, `{"capacity_ah":3000}`, "capacity_ah", "the capacity of 3000 Ah is out of range: 0.1 to 200 Ah"},
		{PackAdded, testPack, `{"fuse_a":0}`, "fuse_a", "the fuse of 0 A is out of range: 0.1 to 500 A"},
		{PackAdded, testPack, `{"lead_mm2":-1}`, "lead_mm2", "the cross-section of the lead of -1 mm² is out of range: 0 to 100 mm²"},
		{PackAdded, testPack, `{"in_service":"01.09.2026"}`, "in_service", `"01.09.2026" is not a date`},
		{PackAdded, testPack, `{"in_service":"2026-02-30"}`, "in_service", `"2026-02-30" is not a date`},
		{PackAdded, testPack, `{"name":"two\nlines"}`, "name", `the name "two\nlines" does not fit in a line`},
		{PackAdded, testPack, `{"name":"` + strings.Repeat("n", 61) + `"}`, "name", ""},
		{ProfileChanged, testPack, `{}`, "", "this changes nothing"},

		{LoadTest, testPack, `{"method":"known-load","open_v":[null],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`, "open_v", "open_v: null does not fit here"},
		{LoadTest, testPack, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"count":2,"resolution_v":0.01}}`, "meter.count", "meter.count: this field is not known"},
		{LoadTest, testPack, `{"method":"known-load","open_v":[],"loaded_v":[],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`, "open_v", ""},
		{LoadTest, testPack, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":0,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01}}`, "load_ohm", ""},
		{LoadTest, testPack, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"taken_at":"yesterday"}`, "taken_at", ""},
		{DirectReading, testPack, `{"method":"known-load","resistance_ohm":[0.05],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001}`, "method", ""},

		{Noted, "", `{"text":" \n"}`, "text", "the note is empty"},
		{Noted, "", `{"text":"` + strings.Repeat("Ω", 4001) + `"}`, "text", "the note has 4001 characters, and 4000 are allowed"},
		{Noted, "", `{"text":"\u0007"}`, "text", "the note holds the control character U+0007"},
		{Inspected, testPack, `{"finding":"dusty"}`, "finding", `"dusty" is not a finding`},
		{Inspected, testPack, `{"finding":"other-safety"}`, "text", "the description is empty"},
		{FindingClosed, testPack, `{"entry":"` + otherID + `","text":""}`, "text", "the account of what was done is empty"},
		{FindingClosed, testPack, `{"entry":"7","text":"done"}`, "entry", `"7" is not the id of an entry`},
		{Voided, "", `{"reason":"oops"}`, "entry", `"" is not the id of an entry`},

		{TeamChanged, "", `{}`, "", "this changes nothing"},
		{TeamChanged, "", `{"competition_ohm":0}`, "competition_ohm", "the competition limit of 0 Ω is out of range: 0.001 to 10 Ω"},
		{TeamChanged, "", `{"practice_ohm":-0.2}`, "practice_ohm", "the practice limit of -0.2 Ω is out of range: 0.001 to 10 Ω"},
		{TeamChanged, "", `{"robot":{"rest_v":8,"brownout_v":8.8,"peak_a":20}}`, "robot.brownout_v", ""},
		{TeamChanged, "", `{"robot":{"rest_v":12.8,"brownout_v":8.8,"peak_a":0}}`, "robot.peak_a", "the peak current of 0 A is out of range: 0.1 to 1000 A"},
		{TeamChanged, "", `{"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0}}`, "meter.resolution_v", "the resolution of 0 V is out of range: 1e-07 to 1 V"},
		{TeamChanged, "", `{"load":{"ohm":0,"lead_ohm":0,"rating_w":25,"on_heat_sink":false}}`, "load.ohm", "the load of 0 Ω is out of range: 0.01 to 10000 Ω"},
		{TeamChanged, "", `{"load":{"ohm":10,"tolerance_pct":1,"uncertainty_ohm":0.01,"lead_ohm":0,"rating_w":25,"on_heat_sink":false}}`, "load.tolerance_pct", "the load has both a tolerance and an uncertainty"},
		{TeamChanged, "", `{"load":{"ohm":10,"tolerance_pct":99,"lead_ohm":0,"rating_w":25,"on_heat_sink":false}}`, "load.tolerance_pct", "the tolerance of the load of 99 % is out of range: 0 to 50 %"},
		{TeamChanged, "", `{"repeats":0}`, "repeats", "the number of readings of 0 is out of range: 1 to 30"},
		{TeamChanged, "", `{"base_url":"pit.local"}`, "base_url", `"pit.local" is not an address for labels`},
		{TeamChanged, "", `{"base_url":"https://pit.local/?a=b"}`, "base_url", ""},
		{TeamChanged, "", `{"base_url":"ftp://pit.local"}`, "base_url", ""},
	} {
		err := made(c.kind, c.pack, c.body).Check()
		if err == nil {
			t.Errorf("%s %s: taken", c.kind, c.body)
			continue
		}
		p, ok := problem.As(err)
		if !ok {
			t.Errorf("%s %s: %v is not for people", c.kind, c.body, err)
			continue
		}
		if p.Field != c.field || (c.want != "" && p.Text != c.want) {
			t.Errorf("%s %s:\n got %q: %q\nwant %q: %q", c.kind, c.body, p.Field, p.Text, c.field, c.want)
		}
		if strings.HasSuffix(p.Text, ".") || p.Text == "" {
			t.Errorf("%s: %q is not how problems are worded", c.kind, p.Text)
		}
		namesFieldOnce(t, err)
	}
}

// namesFieldOnce: a problem's Field is the path of what it is about. Its Text
// may begin with that path, once, and has it nowhere else: so whoever shows the
// path knows whether it is there already.
func namesFieldOnce(t *testing.T, err error) {
	t.Helper()
	p, ok := problem.As(err)
	if !ok || p.Field == "" {
		return
	}
	if strings.Contains(strings.TrimPrefix(p.Text, p.Field+": "), p.Field+": ") {
		t.Errorf("%q names %q again", p.Text, p.Field)
	}
}

// The addresses that a team may enter are those that labels can carry: the table
// is also checked by package labels.
func TestBaseURL(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/base-url.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct{ Accepted, Refused []string }
	if err := json.Unmarshal(raw, &table); err != nil || len(table.Accepted) == 0 || len(table.Refused) == 0 {
		t.Fatalf("%+v, %v", table, err)
	}
	for _, address := range append(table.Accepted, "") {
		if err := baseURL(&address); err != nil {
			t.Errorf("%q: %v", address, err)
		}
	}
	for _, address := range append(table.Refused, "https://"+strings.Repeat("a", 93), "https://pit.local:") {
		p, ok := problem.As(baseURL(&address))
		if !ok || p.Field != "base_url" || p.Hint == "" {
			t.Errorf("%q: %+v", address, p)
		}
	}
}

// Every kind in types.go has a rule, and every rule refuses a body of another kind.
func TestEveryKindIsChecked(t *testing.T) {
	for _, kind := range []Kind{PackAdded, ProfileChanged, LoadTest, DirectReading, Noted, Inspected, FindingClosed, TeamChanged, Voided, Repaired, Charged, RunLogged, Wiggled, Imported} {
		pack := testPack
		if kind == TeamChanged || kind == Imported {
			pack = ""
		}
		e := made(kind, pack, `{"nonsense":1}`)
		if !e.Known() {
			t.Errorf("%s is not known", kind)
		}
		if err := e.Check(); err == nil {
			t.Errorf("%s: nonsense is taken", kind)
		}
	}
}
