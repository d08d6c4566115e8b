package core

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/logged"
	"packwright/internal/problem"
	"packwright/internal/season"
	"packwright/internal/sheet"
	"packwright/internal/wiring"
)

const wiggleBody = `{"load_ohm":2.5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.001},"spots":[{"place":"still","low_v":12.301,"high_v":12.303},{"place":"fuse","low_v":12.1,"high_v":12.303}]}`

// quoted is text as JSON.
func quoted(text string) string {
	raw, _ := json.Marshal(text)
	return string(raw)
}

// The season of one pack through the door.
func TestSeasonJourney(t *testing.T) {
	s := New()
	code := "7K3QXX"
	record(t, s, journal.PackAdded, code, day0, `{"name":"Heron 1","capacity_ah":3,"cells":10,"fuse_a":20}`)
	record(t, s, journal.LoadTest, code, day0+1, goodTest)
	record(t, s, journal.Repaired, code, day0+2, `{"part":"other","text":"new sleeve"}`)
	record(t, s, journal.Charged, code, day0+3, `{"started_at":"2026-09-01T10:00:00Z","ended_at":"2026-09-01T12:00:00Z","purpose":"use","put_in_ah":3.2,"ended":"full"}`)
	record(t, s, journal.Wiggled, code, day0+4, wiggleBody)

	now := fmt.Sprint(day0 + 24*3_600_000)
	h := ask[season.Health](t, s, "health", `{"code":"`+code+`","now_ms":`+now+`}`)
	if h.Code != code || len(h.Points) != 1 || h.Baseline == nil || len(h.Drive) != 5 || len(h.Drive[0].Working) == 0 || h.Charging.Cycles != 1 {
		t.Errorf("%+v", h)
	}
	if p := refused(t, s, "health", `{"code":"10101W","now_ms":`+now+`}`); p.Kind != problem.NotFound {
		t.Errorf("%+v", p)
	}
	b := ask[season.Board](t, s, "board", `{"now_ms":`+now+`,"wanted":1}`)
	if len(b.Rows) != 1 || b.Rows[0].Drive == nil || b.Plan.ThenMS != day0+61*24*3_600_000 {
		t.Errorf("%+v", b)
	}
	if p := refused(t, s, "board", `{"now_ms":`+now+`,"then_ms":1}`); p.Field != "then_ms" {
		t.Errorf("%+v", p)
	}

	w := ask[diagnose.WiggleResult](t, s, "wiggle-check", `{"pack":"`+code+`","body":`+wiggleBody+`}`)
	if len(w.Spots) != 2 || !w.Spots[1].Suspect || w.Text == "" {
		t.Errorf("%+v", w)
	}
	refused(t, s, "wiggle-check", `{"pack":"`+code+`","body":{"load_ohm":2.5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.001},"spots":[]}}`)

	// The rating and the cells come from the pack: 1 A for an hour of 3 Ah.
	var rows []string
	for at := 0; at <= 3600; at += 300 {
		rows = append(rows, fmt.Sprintf(`{"time_s":%d,"volts":12}`, at))
	}
	run := `{"purpose":"capacity","options":{"cells":0,"load_ohm":12},"rows":[` + strings.Join(rows, ",") + `]}`
	r := ask[logged.Result](t, s, "run-check", `{"pack":"`+code+`","body":`+run+`}`)
	if r.Capacity == nil || r.Capacity.SharePct == nil || math.Abs(r.Capacity.SharePct.Value-100.0/3) > 0.01 || r.Capacity.Verdict != logged.NotReached {
		t.Errorf("%+v", r.Capacity)
	}
	if p := refused(t, s, "run-check", `{"pack":"","body":{"purpose":"capacity","options":{"cells":10,"load_ohm":12},"rows":[]}}`); p.Field != "rows" {
		t.Errorf("%+v", p)
	}

	c := ask[TextAnswer](t, s, "calendar", `{"now_ms":`+now+`}`)
	if !strings.HasPrefix(c.Text, "BEGIN:VCALENDAR\r\n") || !strings.Contains(c.Text, "Heron 1") {
		t.Errorf("%q", c.Text)
	}
	for what, want := range map[string]string{"tests": "known-load", "packs": "Heron 1", "charges": "3.2", "repairs": "new sleeve"} {
		table := ask[TableAnswer](t, s, "table", `{"what":"`+what+`","now_ms":`+now+`}`)
		if table.Name != what+" 2026-09-02.csv" || strings.Count(table.Text, "\r\n") != 2 || !strings.Contains(table.Text, want) {
			t.Errorf("%s: %q %q", what, table.Name, table.Text)
		}
	}
	if p := refused(t, s, "table", `{"what":"moods","now_ms":`+now+`}`); p.Field != "what" {
		t.Errorf("%+v", p)
	}
}

// A table that was saved is known when it is read in again; a new row becomes an
// entry that can be recorded, and voiding the import takes it out.
func TestTableComesBack(t *testing.T) {
	s := New()
	record(t, s, journal.PackAdded, "7K3QXX", day0, `{"name":"Heron 1","cells":10}`)
	record(t, s, journal.LoadTest, "7K3QXX", day0, goodTest)
	table := ask[TableAnswer](t, s, "table", fmt.Sprintf(`{"what":"tests","now_ms":%d}`, day0))
	look := func(text string) sheet.Preview {
		return ask[sheet.Preview](t, s, "import-look", fmt.Sprintf(`{"text":%s,"file":"old.csv","plan":null,"now_ms":%d}`, quoted(text), day0+1))
	}
	if p := look(table.Text); p.Good+p.Again != 1 || p.Again != 1 || p.Bad != 0 {
		t.Errorf("%+v", p)
	}
	p := look("pack,date,resistance (Ω)\r\nHeron 1,2026-08-01,0.082\r\nEgret,2026-08-01,0.082\r\n")
	if p.Good != 1 || p.Bad != 1 {
		t.Fatalf("%+v", p)
	}
	ask[Empty](t, s, "here", `{"shifts":[{"from_ms":0,"east_min":600}]}`)
	east := ask[sheet.Preview](t, s, "import-look", fmt.Sprintf(`{"text":%s,"file":"old.csv","plan":null,"now_ms":%d}`, quoted("pack,date,resistance (Ω)\r\nHeron 1,2026-03-14 18:30,0.082\r\n"), day0+1))
	if len(east.Rows) != 1 || !strings.Contains(string(east.Rows[0].Body), `"taken_at":"2026-03-14T08:30:00Z"`) {
		t.Errorf("half past six ten hours east of UTC: %+v", east.Rows)
	}
	if p := refused(t, s, "here", `{"shifts":[{"from_ms":0,"east_min":6000}]}`); p.Kind != problem.Invalid {
		t.Errorf("%+v", p)
	}
	ask[Empty](t, s, "here", `{"shifts":[]}`)
	imported := record(t, s, journal.Imported, "", day0+10, `{"file":"old.csv","rows":1}`)
	body := strings.TrimSuffix(string(p.Rows[0].Body), "}") + `,"import":"` + imported.ID + `"}`
	record(t, s, p.Rows[0].Kind, p.Rows[0].Pack, day0+11, body)
	tests := func() int {
		h := ask[season.Health](t, s, "health", fmt.Sprintf(`{"code":"7K3QXX","now_ms":%d}`, day0+100))
		n := 0
		for _, pt := range h.Points {
			if pt.Reason != "it was voided" {
				n++
			}
		}
		return n
	}
	if n := tests(); n != 2 {
		t.Errorf("%d tests after the import", n)
	}
	record(t, s, journal.Voided, "", day0+12, `{"entry":"`+imported.ID+`"}`)
	if n := tests(); n != 1 {
		t.Errorf("%d tests after it was undone", n)
	}
}

// A file goes through in pieces, and what comes out is fit for an entry.
func TestRunFile(t *testing.T) {
	var file strings.Builder
	file.WriteString("time (s),volts,amps\n")
	for i := range 20_000 {
		amps := 2.0
		if i/50%2 == 1 {
			amps = 12
		}
		if i == 12_345 {
			amps = 40 // a dip of one row
		}
		fmt.Fprintf(&file, "%.2f,%.4f,%.3f\n", float64(i)/10, 13-0.05*amps-float64(i)*1e-5, amps)
	}
	s, text := New(), file.String()
	for _, early := range []string{"run-write", "run-finish"} {
		request := map[string]string{"run-write": `{"text":""}`, "run-finish": `{}`}[early]
		if p := refused(t, s, early, request); p.Text != "no file is being read" {
			t.Errorf("%s: %+v", early, p)
		}
	}
	look := ask[logged.Preview](t, s, "run-look", `{"head":`+quoted(text[:5000])+`,"whole":false,"cells":10}`)
	format, _ := json.Marshal(look.Format)
	if again := ask[logged.Preview](t, s, "run-look", `{"head":`+quoted(text[:5000])+`,"whole":false,"cells":10,"format":`+string(format)+`}`); again.Read != look.Read || look.Read == 0 {
		t.Errorf("%d rows as found, %d as given back", look.Read, again.Read)
	}
	ask[Empty](t, s, "run-open", `{"format":`+string(format)+`,"options":{"cells":10,"rated_ah":3,"brownout_v":8.8}}`)
	n := 0
	for len(text) > 0 {
		piece := text[:min(len(text), 4321)]
		text = text[len(piece):]
		n = ask[RunWriteAnswer](t, s, "run-write", `{"text":`+quoted(piece)+`}`).Rows
	}
	if n < 19_999 {
		t.Errorf("%d rows", n)
	}
	r := ask[logged.Result](t, s, "run-finish", `{}`)
	if r.Rows != 20_000 || len(r.Working) != 0 || len(r.Curve) > journal.CurvePoints || len(r.Curve) < journal.CurvePoints/2 {
		t.Fatalf("%d rows, %d steps, %d points", r.Rows, len(r.Working), len(r.Curve))
	}
	if r.Resistance == nil || r.Resistance.RobustOhm == nil || math.Abs(r.Resistance.RobustOhm.Value-0.05) > 0.001 {
		t.Errorf("%+v", r.Resistance)
	}
	rows, lowest, greatest := 0, math.Inf(1), 0.0
	for _, b := range r.Curve {
		rows += b.Rows
		lowest, greatest = min(lowest, b.MinV), max(greatest, *b.MaxA)
	}
	if rows != 20_000 || math.Abs(lowest-r.Voltage.LowestV) > 1e-5 || greatest != 40 {
		t.Errorf("the curve has %d rows, lowest %v V, greatest %v A", rows, lowest, greatest)
	}
	body, _ := json.Marshal(journal.Run{Purpose: journal.DriveRun, Options: logged.Options{Cells: 10}, File: "drive.csv", Result: &r})
	record(t, s, journal.RunLogged, "7K3QXX", day0, string(body))
	if p := refused(t, s, "run-finish", `{}`); p.Text != "no file is being read" {
		t.Errorf("%+v", p)
	}
}

func TestThin(t *testing.T) {
	for n, want := range map[int]int{0: 0, 1: 1, 200: 200, 201: 101, 1024: 171} {
		if got := len(thin(make([]logged.Bucket, n), 200)); got != want {
			t.Errorf("%d points thinned to %d, want %d", n, got, want)
		}
	}
	for _, v := range []float64{0, 1.23456789, -12345678, 5e-324, 1e300, 12.3456749999} {
		if got := digits(v); math.Abs(got-v) > 5.1e-8*10*math.Abs(v) {
			t.Errorf("%v became %v", v, got)
		}
	}
	if digits(1.23456789) != 1.234568 {
		t.Errorf("%v", digits(1.23456789))
	}
}

func TestLead(t *testing.T) {
	s := New()
	lead := `{"wires":[{"name":"lead","size":{"awg":16},"length_mm":300,"ways":2}],"joints":[],"peak_a":20}`
	if size := ask[wiring.Size](t, s, "read-size", `{"text":"16 AWG"}`); size.AWG == nil || *size.AWG != 16 {
		t.Errorf("%+v", size)
	}
	refused(t, s, "read-size", `{"text":"16"}`)
	// ASTM B258's 1.291 mm at 1/58 Ω·mm²/m (IEC 60028) give 7.9 mΩ for 0.6 m at 20 °C;
	// strands and 25 °C a few per cent more.
	a := ask[LeadAnswer](t, s, "lead", `{"lead":`+lead+`,"pack":""}`)
	if a.Comparison != nil || a.Budget.ResistanceOhm < 0.0079 || a.Budget.ResistanceOhm > 0.0085 {
		t.Errorf("%+v", a)
	}
	record(t, s, journal.LoadTest, "7K3QXX", day0, goodTest)
	if a = ask[LeadAnswer](t, s, "lead", `{"lead":`+lead+`,"pack":"7K3QXX"}`); a.Comparison == nil || math.Abs(a.Comparison.PackOhm-a.Comparison.CellsOhm-a.Budget.ResistanceOhm) > 1e-12 || len(a.Comparison.Gains) == 0 {
		t.Errorf("%+v", a.Comparison)
	}
	if a = ask[LeadAnswer](t, s, "lead", `{"lead":`+lead+`,"pack":"10101W"}`); a.Comparison != nil {
		t.Errorf("a pack that is not there: %+v", a.Comparison)
	}
	refused(t, s, "lead", `{"lead":{"wires":[],"joints":[],"peak_a":20},"pack":""}`)
}
