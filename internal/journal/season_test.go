package journal

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"packwright/internal/edge"
	"packwright/internal/problem"
)

// seasonBodies are good bodies of every kind of the season.
var seasonBodies = []struct {
	kind       Kind
	pack, body string
}{
	{Repaired, testPack, `{"part":"lead","text":"new crimp","day":"2026-11-01"}`},
	{Repaired, testPack, `{"part":"other","text":"new sleeve"}`},
	{Charged, testPack, `{"started_at":"2026-11-01T10:00:00+01:00","purpose":"use","ended":"full"}`},
	{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","ended_at":"2026-11-01T10:00:00Z","purpose":"top-up","charger":"bench 2","current_a":0.3,"put_in_ah":3.4,"missing_ah":0,"ended":"timer","text":"warm"}`},
	{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","purpose":"conditioning","ended":"unknown"}`},
	{RunLogged, testPack, `{"purpose":"capacity","started_at":"2026-11-01T10:00:00Z","options":{"cells":10,"rated_ah":3,"load_ohm":10,"from_full":true,"pack_c":21},"rows":[{"time_s":0,"volts":12.8},{"time_s":600,"volts":12.1}]}`},
	{RunLogged, testPack, `{"purpose":"drive","options":{"cells":10},"file":"drive 3.csv","result":` + fmt.Sprintf(resultBody, 2, 60.0, bucket(0)+","+bucket(30), "null") + `}`},
	{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, spot(Still, 12.31, 12.32)+","+spot(AtConnector, 12.1, 12.32))},
	{Imported, "", `{"file":"old tests.csv","rows":31}`},
	{LoadTest, testPack, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"import":"` + otherID + `"}`},
	{DirectReading, testPack, `{"method":"direct-dc","resistance_ohm":[0.05],"accuracy_pct":1,"counts":3,"resolution_ohm":0.0001,"import":"` + otherID + `"}`},
	{ProfileChanged, testPack, `{"retired":true,"retired_why":"lost a cell"}`},
	{TeamChanged, "", `{"event_name":"Spring meeting","event_date":"2027-03-06","wanted_packs":6,"wanted_pct":90,"pack_price":49.5,"currency":"coins","delivery_days":21,"to_20c":true,"capacity_good_pct":80,"capacity_end_pct":60,"charge_factor":1.2,"self_discharge_pct_month":30,"top_up_days":90,"condition_days":180,"reference_pack":"` + testPack + `"}`},
	{TeamChanged, "", `{"event_date":"","reference_pack":""}`},
}

const (
	wiggleBody = `{"load_ohm":%v,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"spots":[%s]}`
	resultBody = `{"rows":%v,"set_aside":0,"duration_s":%v,"typical_interval_s":1,"issues":[],"has_amps":false,"sign_turned":false,
		"voltage":{"lowest_v":11,"lowest_at_s":3,"lowest_line":4,"lowest_is_spike":false,"below_brownout_s":0,"dips":0,"longest_dip_s":0,"below_one_volt_s":0},
		"charge":null,"capacity":%[4]s,"resistance":null,"curve":[%[3]s],"warnings":[],"working":[]}`
)

func spot(place WigglePlace, low, high float64) string {
	return fmt.Sprintf(`{"place":%q,"low_v":%v,"high_v":%v}`, place, low, high)
}

func bucket(t float64) string {
	return fmt.Sprintf(`{"time_s":%v,"min_v":11,"max_v":12,"min_a":null,"max_a":null,"rows":1}`, t)
}

func buckets(n int) string {
	list := make([]string, n)
	for i := range list {
		list[i] = bucket(float64(i))
	}
	return strings.Join(list, ",")
}

func rows(n int) string {
	list := make([]string, n)
	for i := range list {
		list[i] = fmt.Sprintf(`{"time_s":%d,"volts":12}`, i)
	}
	return strings.Join(list, ",")
}

func TestSeasonTakes(t *testing.T) {
	for _, c := range seasonBodies {
		if err := made(c.kind, c.pack, c.body).Check(); err != nil {
			t.Errorf("%s %s: %v", c.kind, c.body, err)
		}
	}
}

func TestSeasonRefuses(t *testing.T) {
	run := func(result string) string {
		return `{"purpose":"drive","options":{"cells":10},"result":` + result + `}`
	}
	still := spot(Still, 12.3, 12.3)
	for _, c := range []struct {
		kind       Kind
		pack, body string
		field      string
		want       string
	}{
		{Repaired, "", `{"part":"lead","text":"x"}`, "pack", "a repair entry needs a pack"},
		{Repaired, testPack, `{"part":"paint","text":"x"}`, "part", `"paint" is not a part that is repaired`},
		{Repaired, testPack, `{"part":"lead","text":" "}`, "text", "the account of what was done is empty"},
		{Repaired, testPack, `{"part":"lead","text":"x","day":"1.11."}`, "day", `"1.11." is not a date`},

		{Charged, testPack, `{"started_at":"2026-11-01","purpose":"use","ended":"full"}`, "started_at", `"2026-11-01" is not a date and time`},
		{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","purpose":"fun","ended":"full"}`, "purpose", `"fun" is not a purpose of a charge`},
		{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","purpose":"use","ended":"beep"}`, "ended", `"beep" is not an end of a charge`},
		{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","ended_at":"2026-11-01T10:30:00+01:00","purpose":"use","ended":"full"}`, "ended_at", "the charge ends before it starts"},
		{Charged, testPack, `{"started_at":"2026-11-01T10:00:00Z","ended_at":"never","purpose":"use","ended":"full"}`, "ended_at", `"never" is not a date and time`},

		{RunLogged, testPack, `{"purpose":"fun","options":{"cells":10},"rows":[{"time_s":0,"volts":12}]}`, "purpose", `"fun" is not a purpose of a run`},
		{RunLogged, testPack, `{"purpose":"drive","options":{"cells":10}}`, "rows", "the run has no readings"},
		{RunLogged, testPack, `{"purpose":"drive","options":{"cells":-1},"rows":[{"time_s":0,"volts":12}]}`, "options.cells", "-1 is not a number of cells"},
		{RunLogged, testPack, `{"purpose":"drive","options":{"cells":10,"good_pct":70,"end_pct":71},"rows":[{"time_s":0,"volts":12}]}`, "options.end_pct", ""},
		{RunLogged, testPack, `{"purpose":"drive","options":{"cells":10},"file":"a\nb","rows":[{"time_s":0,"volts":12}]}`, "file", ""},
		{RunLogged, testPack, `{"purpose":"drive","started_at":"now","options":{"cells":10},"rows":[{"time_s":0,"volts":12}]}`, "started_at", `"now" is not a date and time`},
		{RunLogged, testPack, run(fmt.Sprintf(resultBody, 2, 60, "", "null") + `,"rows":[{"time_s":0,"volts":12}]`), "result", "the run has both rows and a result"},
		{RunLogged, testPack, run(fmt.Sprintf(resultBody, 2, 60, bucket(2)+","+bucket(1), "null")), "result.curve", "its times go back"},
		{RunLogged, testPack, run(strings.Replace(fmt.Sprintf(resultBody, 2, 60, "", "null"), `"working":[]`, `"working":[{"label":"","formula":"","numbers":"","result":""}]`, 1)), "result.working", "there are 1 entries, and 0 are allowed"},

		{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, spot(AtConnector, 12, 12.3)), "spots", "there is no reading with the lead still"},
		{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, still), "spots", "the lead was moved nowhere"},
		{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, still+","+still), "spots", "still comes twice"},
		{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, still+","+spot("moon", 12, 12.3)), "spots", `"moon" is not a place on a lead`},
		{Wiggled, testPack, fmt.Sprintf(wiggleBody, 2.5, still+","+spot(AtFuse, 12.3, 12.2)), "spots", "the lowest voltage of 12.3 V is above the highest of 12.2 V"},

		{Imported, testPack, `{"file":"x","rows":1}`, "pack", "import entries are not about one pack"},
		{LoadTest, testPack, `{"method":"known-load","open_v":[12.8],"loaded_v":[12.7],"load_ohm":10,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"import":"7"}`, "import", `"7" is not the id of an entry`},
		{TeamChanged, "", `{"capacity_good_pct":70,"capacity_end_pct":80}`, "capacity_end_pct", "a pack cannot be at its end at 80 % and good at 70 %"},
		{TeamChanged, "", `{"reference_pack":"heron 1"}`, "reference_pack", `"heron 1" is no pack code`},
	} {
		err := made(c.kind, c.pack, c.body).Check()
		p, ok := problem.As(err)
		if !ok || p.Field != c.field || (c.want != "" && p.Text != c.want) {
			t.Errorf("%s %s:\n got %+v\nwant %q: %q", c.kind, c.body, err, c.field, c.want)
		}
		namesFieldOnce(t, err)
	}
}

// TestEdgesOfSeason: numbers of the season's entries at the limit and the next
// float on either side.
func TestEdgesOfSeason(t *testing.T) {
	var limits []edge.Limit
	within := func(kind Kind, name string, low, high float64, body func(v string) string) {
		limits = append(limits, edge.Range(name, low, high, func(v float64) bool {
			return !takes(kind, body(strconv.FormatFloat(v, 'g', -1, 64)))
		})...)
	}
	charge := func(field string) func(v string) string {
		return func(v string) string {
			return `{"started_at":"2026-11-01T10:00:00Z","purpose":"use","ended":"full","` + field + `":` + v + `}`
		}
	}
	within(Charged, "current_a", 0.001, 200, charge("current_a"))
	within(Charged, "put_in_ah", 0, 400, charge("put_in_ah"))
	within(Charged, "missing_ah", 0, 400, charge("missing_ah"))
	within(RunLogged, "rows.time_s", 0, 604_800, func(v string) string {
		return `{"purpose":"drive","options":{"cells":10},"rows":[{"time_s":` + v + `,"volts":12}]}`
	})
	within(RunLogged, "rows.volts", 0, 100, func(v string) string {
		return `{"purpose":"drive","options":{"cells":10},"rows":[{"time_s":0,"volts":` + v + `}]}`
	})
	within(RunLogged, "options.pack_c", -60, 120, func(v string) string {
		return `{"purpose":"drive","options":{"cells":10,"pack_c":` + v + `},"rows":[{"time_s":0,"volts":12}]}`
	})
	within(RunLogged, "result.duration_s", 0, 1e9, func(v string) string {
		return `{"purpose":"drive","options":{"cells":10},"result":` + fmt.Sprintf(resultBody, 2, v, "", "null") + `}`
	})
	still := spot(Still, 0, 100)
	within(Wiggled, "load_ohm", 0.01, 10_000, func(v string) string { return fmt.Sprintf(wiggleBody, v, still+","+spot(AtFuse, 12, 12)) })
	limits = append(limits,
		edge.Limit{Name: "low_v", At: 0, Refused: func(v float64) bool {
			return !takes(Wiggled, fmt.Sprintf(wiggleBody, 2.5, still+","+spot(AtFuse, v, 12)))
		}},
		edge.Limit{Name: "high_v", At: 100, Above: true, Refused: func(v float64) bool {
			return !takes(Wiggled, fmt.Sprintf(wiggleBody, 2.5, still+","+spot(AtFuse, 12, v)))
		}},
		edge.Limit{Name: "low_v to high_v", At: 12, Above: true, Refused: func(v float64) bool {
			return !takes(Wiggled, fmt.Sprintf(wiggleBody, 2.5, still+","+spot(AtFuse, v, 12)))
		}})
	edge.Check(t, limits)
}

// TestEdgesOfSeasonLists: lists, dates and texts, at the limit and one beyond.
func TestEdgesOfSeasonLists(t *testing.T) {
	text := func(n int) string { return strings.Repeat("Ω", n) }
	result := func(rows, curve, capacity string) string {
		return `{"purpose":"drive","options":{"cells":10},"result":` + fmt.Sprintf(resultBody, rows, 60, curve, capacity) + `}`
	}
	capacity := func(verdict string) string {
		return `{"stop_v":10,"reached":true,"stop_at_s":null,"out_ah":{"value":2,"standard_uncertainty":null,"expanded_uncertainty":null,"observations":2},"out_wh":{"value":2,"standard_uncertainty":null,"expanded_uncertainty":null,"observations":2},"share_pct":null,"good_pct":80,"end_pct":60,"verdict":"` + verdict + `","pack_c":null}`
	}
	share := func(capacity string) string {
		return strings.Replace(capacity, `"share_pct":null`, `"share_pct":{"value":70,"standard_uncertainty":null,"expanded_uncertainty":null,"observations":2}`, 1)
	}
	charge := `{"started_at":"%s","ended_at":"%s","purpose":"use","ended":"full","charger":"%s","text":"%s"}`
	for _, c := range []struct {
		kind            Kind
		within, without string
	}{
		{Repaired, `{"part":"fuse","text":"` + text(1000) + `"}`, `{"part":"fuse","text":"` + text(1001) + `"}`},
		{Repaired, `{"part":"fuse","text":"x","day":"1980-01-01"}`, `{"part":"fuse","text":"x","day":"1979-12-31"}`},
		{Charged, fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "2026-12-01T00:00:00Z", "", ""), fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "2026-12-01T00:00:00.001Z", "", "")},
		{Charged, fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "2026-11-01T00:00:00Z", "", ""), fmt.Sprintf(charge, "2026-11-01T00:00:00.001Z", "2026-11-01T00:00:00Z", "", "")},
		{Charged, fmt.Sprintf(charge, "1980-01-01T00:00:00Z", "", "", ""), fmt.Sprintf(charge, "1979-12-31T23:59:59Z", "", "", "")},
		{Charged, fmt.Sprintf(charge, "2199-12-31T23:59:59.999Z", "", "", ""), fmt.Sprintf(charge, "2200-01-01T00:00:00Z", "", "", "")},
		{Charged, fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "", text(60), text(1000)), fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "", text(61), "")},
		{Charged, fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "", "", ""), fmt.Sprintf(charge, "2026-11-01T00:00:00Z", "", "", text(1001))},
		{RunLogged, `{"purpose":"capacity","options":{"cells":10},"rows":[` + rows(2000) + `]}`, `{"purpose":"capacity","options":{"cells":10},"rows":[` + rows(2001) + `]}`},
		{RunLogged, result("2", buckets(200), "null"), result("2", buckets(201), "null")},
		{RunLogged, result("2", "", "null"), result("1", "", "null")},
		{RunLogged, result("1000000000", "", "null"), result("1000000001", "", "null")},
		{RunLogged, result("2", "", capacity("worn")), result("2", "", capacity("so-so"))},
		{RunLogged, result("2", "", share(capacity("worn"))), result("2", "", share(capacity("")))},
		{RunLogged, result("2", bucket(1)+","+bucket(1), "null"), result("2", bucket(1.1)+","+bucket(1), "null")},
		{RunLogged, strings.Replace(result("2", "", "null"), `"result"`, `"note":"`+text(4000)+`","file":"`+text(200)+`","result"`, 1), strings.Replace(result("2", "", "null"), `"result"`, `"file":"`+text(201)+`","result"`, 1)},
		{RunLogged, result("2", "", "null"), strings.Replace(result("2", "", "null"), `"result"`, `"note":"`+text(4001)+`","result"`, 1)},
		{RunLogged, strings.Replace(result("2", "", "null"), `"warnings":[]`, `"warnings":[`+list(50, `{"code":"","text":""}`)+`]`, 1), strings.Replace(result("2", "", "null"), `"warnings":[]`, `"warnings":[`+list(51, `{"code":"","text":""}`)+`]`, 1)},
		{RunLogged, strings.Replace(result("2", "", "null"), `"issues":[]`, `"issues":[`+list(20, issue)+`]`, 1), strings.Replace(result("2", "", "null"), `"issues":[]`, `"issues":[`+list(21, issue)+`]`, 1)},
		{Imported, `{"file":"` + text(200) + `","rows":1,"text":"` + text(1000) + `"}`, `{"file":"` + text(201) + `","rows":1}`},
		{Imported, `{"file":"","rows":20000}`, `{"file":"","rows":20001}`},
		{Imported, `{"file":"","rows":1}`, `{"file":"","rows":0}`},
		{Imported, `{"file":"","rows":1}`, `{"file":"","rows":1,"text":"` + text(1001) + `"}`},
	} {
		if !takes(c.kind, c.within) {
			t.Errorf("%s %.200s is refused at the limit", c.kind, c.within)
		}
		if takes(c.kind, c.without) {
			t.Errorf("%s %.200s is taken beyond the limit", c.kind, c.without)
		}
	}
}

const issue = `{"kind":"gap","rows":1,"set_aside":false,"text":"","hint":"","first":[]}`

func list(n int, item string) string {
	return strings.TrimSuffix(strings.Repeat(item+",", n), ",")
}

// What a phone is asked for fits into an entry: the most rows that a check
// takes with whole seconds, and the longest curve with seven digits a number.
func TestLongRunsFitIntoAnEntry(t *testing.T) {
	curve := make([]string, CurvePoints)
	for i := range curve {
		curve[i] = fmt.Sprintf(`{"time_s":%d.125,"min_v":11.23456,"max_v":12.34567,"min_a":-12.34567,"max_a":123.4567,"rows":5000}`, 10_000+i)
	}
	handRows := make([]string, 1500)
	for i := range handRows {
		handRows[i] = fmt.Sprintf(`{"time_s":%d.5,"volts":12.345}`, 100_000+i)
	}
	for _, body := range []string{
		`{"purpose":"drive","options":{"cells":10},"result":` + fmt.Sprintf(resultBody, 2, 60, strings.Join(curve, ","), "null") + `}`,
		`{"purpose":"capacity","options":{"cells":10},"rows":[` + rows(2000) + `]}`,
		`{"purpose":"capacity","options":{"cells":10},"rows":[` + strings.Join(handRows, ",") + `]}`,
	} {
		raw, err := json.Marshal(made(RunLogged, testPack, body))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ParseEntry(raw); err != nil {
			t.Errorf("%d bytes: %v", len(raw), err)
		}
	}
}
