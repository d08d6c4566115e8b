package sheet

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // a phone's compiler has no zones of its own

	"packwright/internal/loadtest"
	"packwright/internal/place"
	"packwright/internal/strictjson"
)

const nowMS = 1_795_608_000_000 // 2026-11-25

func fleet() []Known {
	return []Known{{Code: "M4K2TW", Name: "Blue 1"}, {Code: "7K3QX9", Name: "Blue 2"}, {Code: "ABCDEF", Name: "Übungspack"}}
}

func look(t *testing.T, text string) Preview {
	t.Helper()
	p, err := Look(text, fleet(), nowMS, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// describe writes a preview as the tables of testdata show it.
func describe(t *testing.T, p Preview) string {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "delimiter %q, decimal %q, dates %s, %d head rows", p.Plan.Delimiter, p.Plan.Decimal, p.Plan.DateOrder, p.Plan.HeadRows)
	if p.Plan.Method != "" {
		fmt.Fprintf(&b, ", %s", p.Plan.Method)
	}
	b.WriteString("\n")
	for _, c := range p.Plan.Columns {
		fmt.Fprintf(&b, "column %s: %s", c.Name, orElse(string(c.Field), "skip"))
		if c.Unit != "" {
			fmt.Fprintf(&b, " in %s", c.Unit)
		}
		if c.Doubt != "" {
			fmt.Fprintf(&b, " (%s)", c.Doubt)
		}
		b.WriteString("\n")
	}
	for _, d := range p.Doubts {
		fmt.Fprintf(&b, "doubt: %s\n", d)
	}
	for _, r := range p.Rows {
		switch {
		case r.Problem != "":
			fmt.Fprintf(&b, "line %d: %s (%s)\n", r.Line, r.Problem, r.Hint)
		default:
			fmt.Fprintf(&b, "line %d: %s %s by %q: %s", r.Line, r.Pack, Moment(r.AtMS)[:16], r.By, r.Shown)
			if r.Again {
				b.WriteString(", again")
			}
			fmt.Fprintf(&b, "\n  %s %s\n", r.Kind, r.Body)
		}
	}
	fmt.Fprintf(&b, "%d good, %d bad, %d again\n", p.Good, p.Bad, p.Again)
	return b.String()
}

// TestTables reads testdata/*.txt: a table as a team may have kept it, a line
// of dashes, and what Look makes of it. UPDATE=1 writes the second part anew.
func TestTables(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txt")
	if err != nil || len(files) < 6 {
		t.Fatalf("%d tables, %v", len(files), err)
	}
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		table, want, _ := strings.Cut(string(raw), "-----\n")
		got := describe(t, look(t, table))
		if os.Getenv("UPDATE") != "" {
			if err := os.WriteFile(file, []byte(table+"-----\n"+got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if got != want {
			t.Errorf("%s: got\n%s\nwant\n%s", file, got, want)
		}
	}
}

// What Write makes of a table of tests, Look reads back to the same bodies.
func TestRoundTrip(t *testing.T) {
	five, rest, temp, freq := 5.0, 75.0, -3.5, 1000.0
	uncertainty, tempco, rise, pct, counts, step := 0.02, -50.0, 12.5, 1.0, 2.0, 0.001
	meter := loadtest.Meter{ReadingPct: 0.3, Counts: 1, ResolutionV: 0.001}
	tests := []Test{
		{Code: "M4K2TW", Name: "Blue 1", AtMS: nowMS - 9*dayMS, By: "AB", Outcome: "competition",
			Test: &loadtest.Test{Method: loadtest.KnownLoad, OpenV: []float64{12.841, 12.84, 12.838}, LoadedV: []float64{12.71, 12.712, 12.708}, LoadOhm: 10.07,
				LoadUncertaintyOhm: &uncertainty, LoadTempcoPpmK: &tempco, LoadRiseK: &rise, LeadOhm: 0.011, LeadUncertaintyOhm: &uncertainty,
				Meter: meter, ReadAfterS: &five, TemperatureC: &temp, Charge: loadtest.ChargeFull, RestedMin: &rest, Note: "=HYPERLINK(\"x\"), loose; -1\n- 'second' line"}},
		{Code: "7K3QX9", Name: "Blue, \"two\"", AtMS: nowMS - 8*dayMS + 123,
			Test: &loadtest.Test{Method: loadtest.MeasuredCurrent, OpenV: []float64{12.8}, LoadedV: []float64{12.6}, CurrentA: []float64{1.9},
				CurrentPct: &pct, CurrentCounts: &counts, CurrentResolutionA: &step, Meter: loadtest.Meter{ResolutionV: 0.01}}},
		{Code: "7K3QX9", AtMS: nowMS - 7*dayMS,
			Test: &loadtest.Test{Method: loadtest.TwoLoads, Loaded1V: []float64{12.7, 12.69}, Load1Ohm: 22, Loaded2V: []float64{12.2, 12.21}, Load2Ohm: 2.7, LoadTolerancePct: &pct, Meter: meter}},
		{Code: "ABCDEF", AtMS: nowMS - 6*dayMS, By: "-1",
			Direct: &loadtest.Direct{Method: loadtest.DirectAC, ResistanceOhm: []float64{0.0451, 0.0449}, AccuracyPct: 0.5, Counts: 5, ResolutionOhm: 0.0001, FrequencyHz: &freq, Charge: loadtest.ChargePartial}},
	}
	head, rows := Tests(tests)
	text := Write(head, rows)
	p := look(t, text)
	if p.Good != len(tests) || len(p.Doubts) > 0 {
		t.Fatalf("%s\n%s", text, describe(t, p))
	}
	for i, r := range p.Rows {
		var body any = tests[i].Test
		if tests[i].Test != nil {
			tests[i].Test.TakenAt = place.TimeText(tests[i].AtMS)
		} else {
			tests[i].Direct.TakenAt = place.TimeText(tests[i].AtMS)
			body = tests[i].Direct
		}
		want, err := strictjson.Encode(body)
		if err != nil {
			t.Fatal(err)
		}
		if string(r.Body) != string(want) || r.AtMS != tests[i].AtMS || r.By != tests[i].By || r.Pack != tests[i].Code {
			t.Errorf("row %d:\n got %s %d %q\nwant %s %d %q", i, r.Body, r.AtMS, r.By, want, tests[i].AtMS, tests[i].By)
		}
	}
	known := fleet()
	known[0].Tests, known[2].Tests = tests[:1], tests[3:]
	again, err := Look(text, known, nowMS, nil, nil)
	if err != nil || again.Again != 2 || again.Good != 2 {
		t.Errorf("again %d, good %d, %v", again.Again, again.Good, err)
	}
}

// The same value twice on one day is two tests where the table tells the times,
// and one where it does not.
func TestSameReadingAtAnotherTime(t *testing.T) {
	at := func(clock string) Test {
		ms, ok := place.TimeMS("2026-03-14T" + clock + "Z")
		if !ok {
			t.Fatal(clock)
		}
		return Test{AtMS: ms, Direct: &loadtest.Direct{ResistanceOhm: []float64{0.045}}}
	}
	for name, c := range map[string]struct {
		known []Test
		when  []string
		again []bool
	}{
		"times":                      {nil, []string{"2026-03-14 10:30", "2026-03-14 15:00", "2026-03-14 10:30"}, []bool{false, false, true}},
		"days":                       {nil, []string{"2026-03-14", "2026-03-14", "2026-03-15"}, []bool{false, true, false}},
		"noon is a time, too":        {nil, []string{"2026-03-14 10:30", "2026-03-14 12:00", "2026-03-14"}, []bool{false, false, true}},
		"known, without its seconds": {[]Test{at("10:30:42")}, []string{"2026-03-14 10:30", "2026-03-14 10:31"}, []bool{true, false}},
		"known, the day alone":       {[]Test{at("10:30:42")}, []string{"2026-03-14"}, []bool{true}},
	} {
		known := fleet()
		known[0].Tests = c.known
		text := "pack,tested at (UTC),resistance (mΩ)\n"
		for _, when := range c.when {
			text += known[0].Code + "," + when + ",45\n"
		}
		p, err := Look(text, known, nowMS, nil, nil)
		if err != nil || len(p.Rows) != len(c.again) {
			t.Fatalf("%s: %v\n%s", name, err, describe(t, p))
		}
		for i, row := range p.Rows {
			if row.Again != c.again[i] || row.Problem != "" {
				t.Errorf("%s: row %d is there already: %v, want %v\n%s", name, i, row.Again, c.again[i], describe(t, p))
			}
		}
	}
}

// A head of load and resistance is the load, in all four languages, and “Last V” the
// voltage under it; a resistance under load is the pack's.
func TestLoadHeads(t *testing.T) {
	for text, want := range map[string]string{
		"Akku;Datum;Leerlauf V;Last V;Widerstand Last":                 "open_v loaded_v load_ohm",
		"pack;date;open V;V load;load resistance":                      "open_v loaded_v load_ohm",
		"pack;date;open;loaded;R load":                                 "open_v loaded_v load_ohm",
		"pack;date;open;loaded;Resistor":                               "open_v loaded_v load_ohm",
		"batterie;date;à vide;en charge;résistance charge":             "open_v loaded_v load_ohm",
		"bateria;fecha;en vacío;con carga;Resistencia carga":           "open_v loaded_v load_ohm",
		"pack;date;open;loaded;resistance under load":                  "open_v loaded_v resistance",
		"Akku;Datum;Leerlaufspannung;Spannung unter Last;Innenwiderst": "open_v loaded_v skip",
		"pack;date;open;last;load":                                     "open_v loaded_v load_ohm",
	} {
		p := look(t, text+"\nBlue 1;2026-03-04;12.84;12.31;2.5\n")
		var got []string
		for _, c := range p.Plan.Columns[2:] {
			got = append(got, orElse(string(c.Field), "skip"))
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: %s, want %s", text, strings.Join(got, " "), want)
		}
	}
}

// A resistance that no pack has is refused row by row and told at its column; so are
// voltages the wrong way round where only the resistance is taken.
func TestResistancesOfNoPack(t *testing.T) {
	for _, c := range []struct{ cell, want string }{
		{"2.5 mΩ", "2.5 mΩ is too little for 10 cells: is this the load, or another unit?"},
		{"9.9 mΩ", "9.9 mΩ is too little for 10 cells: is this the load, or another unit?"}, {"10 mΩ", ""}, {"45 mΩ", ""}, {"2 Ω", ""},
		{"2.5 Ω", "2.5 Ω is too much for 10 cells: is this the load, or another unit?"},
	} {
		p := look(t, "pack,date,resistance\nBlue 1,2026-03-04,"+c.cell+"\n")
		if p.Rows[0].Problem != c.want || p.Plan.Columns[2].Doubt != c.want || (p.Good == 1) != (c.want == "") {
			t.Errorf("%s:\n%s", c.cell, describe(t, p))
		}
	}
	six := []Known{{Code: "M4K2TW", Name: "Blue 1", Cells: 6}}
	if p, err := Look("pack,date,resistance\nBlue 1,2026-03-04,7 mΩ\n", six, nowMS, nil, nil); err != nil || p.Good != 1 {
		t.Errorf("six cells: %v\n%s", err, describe(t, p))
	}
	plan := &Plan{HeadRows: 1, Columns: []Column{{Field: PackCode}, {Field: TestDate}, {Field: OpenVolts}, {Field: Skip}, {Field: Resistance, Unit: "mΩ"}}}
	for loaded, want := range map[string]string{"12.71": "", "12.84": "12.84 V on load is not below 12.84 V without", "12.9": "12.9 V on load is not below 12.84 V without", "": ""} {
		p, err := Look("pack,date,open V,last V,R\nBlue 1,2026-03-04,12.84,"+loaded+",45\n", fleet(), nowMS, nil, plan)
		if err != nil || p.Rows[0].Problem != want {
			t.Errorf("%q: %v\n%s", loaded, err, describe(t, p))
		}
	}
}

// A corrected plan is followed, and what it leaves open is proposed.
func TestPlanIsFollowed(t *testing.T) {
	text := "when,who knows,x,y\n03/04/2026,Blue 1,12.84,12.71\n"
	p, err := Look(text, fleet(), nowMS, place.Clock{{EastMin: -300}}, &Plan{DateOrder: "mdy", LoadOhm: 4.7, HeadRows: 1, Columns: []Column{{Field: TestDate}, {Field: PackCode}, {Field: OpenVolts}, {Field: LoadedVolts}}})
	if err != nil || p.Good != 1 || Moment(p.Rows[0].AtMS) != "2026-03-04 17:00:00" || p.Plan.Columns[3].Name != "y" {
		t.Errorf("%v\n%s", err, describe(t, p))
	}
	for _, bad := range []Plan{{Delimiter: "|"}, {Decimal: "x"}, {DateOrder: "dym"}, {HeadRows: -1}, {LoadOhm: -1}, {Method: "x"},
		{Columns: []Column{{Field: "x"}}}, {Columns: []Column{{Field: OpenVolts, Unit: "Ω"}}}, {Columns: make([]Column, 999)}} {
		if _, err := Look(text, fleet(), nowMS, nil, &bad); err == nil {
			t.Errorf("%+v is followed", bad)
		}
	}
}

// Every row of an old table has the offset of its own day, whatever it is today; a
// zone in the row, or UTC in the head of the column, wins.
func TestRowsHaveTheOffsetOfTheirDay(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ head, date, want string }{
		{"date", "2026-01-14 00:30", "2026-01-13 23:30:00"},
		{"date", "2026-07-14 00:30", "2026-07-13 22:30:00"},
		{"date", "2026-07-14", "2026-07-14 10:00:00"}, // noon
		{"date", "2026-03-29 01:59", "2026-03-29 00:59:00"},
		{"date", "2026-03-29 02:30", "2026-03-29 01:30:00"}, // there is none: of a clock that was not put forward
		{"date", "2026-03-29 03:00", "2026-03-29 01:00:00"},
		{"date", "2025-10-26 02:30", "2025-10-26 00:30:00"}, // the first of two
		{"date", "2025-10-26 03:00", "2025-10-26 02:00:00"},
		{"date", "2026-07-14T00:30:00+05:30", "2026-07-13 19:00:00"},
		{"date", "2026-07-14 00:30 UTC", "2026-07-14 00:30:00"},
		{"tested at UTC", "2026-07-14 00:30", "2026-07-14 00:30:00"},
	} {
		p, err := Look("pack,"+c.head+",resistance (Ω)\nBlue 1,"+c.date+",0.082\n", fleet(), nowMS, place.Of(zone), nil)
		if err != nil || p.Good != 1 || Moment(p.Rows[0].AtMS) != c.want {
			t.Errorf("%s %s: %v\n%s", c.head, c.date, err, describe(t, p))
		}
	}
}

// A row without a time is the same test by the day of the place, in the evening as well.
func TestAgainOnTheSameEvening(t *testing.T) {
	zone, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	text := "pack,date,resistance (Ω)\nBlue 1,2026-03-14 20:00,0.082\nBlue 1,2026-03-14,0.082\nBlue 1,2026-03-15,0.082\n"
	p, err := Look(text, fleet(), nowMS, place.Of(zone), nil)
	if err != nil || len(p.Rows) != 3 || p.Rows[0].Again || !p.Rows[1].Again || p.Rows[2].Again {
		t.Errorf("%v\n%s", err, describe(t, p))
	}
}

func TestBounds(t *testing.T) {
	for text, want := range map[string]string{
		"":                          "the file is empty",
		"\ufeff \r\n":               "the file is empty",
		"PK\x03\x04abc":             "this is a spreadsheet or an archive, not a CSV file",
		"\xff\xfea\x00,\x00b\x00":   "the file is written in UTF-16",
		"\ufffd\ufffda\x00,\x00":    "the file is written in UTF-16", // as a browser hands it on
		"p\x00a\x00c\x00k\x00,\x00": "the file is written in UTF-16",
		"pack,date\x00\nx,y":        "the file is not text",
		"a" + strings.Repeat("\n1,2", mostRows+40): "the table has more than 20000 rows",
		strings.Repeat("x", mostBytes+1):           "the file has more than 8 MB",
	} {
		_, err := Look(text, nil, nowMS, nil, nil)
		if err == nil || err.Error() != want {
			t.Errorf("%.20q: %v, want %s", text, err, want)
		}
	}
	if p := look(t, "pack,date,R (mOhm)\n"); len(p.Rows) != 0 || len(p.Doubts) == 0 {
		t.Errorf("a head alone: %s", describe(t, p))
	}
	var b strings.Builder
	b.WriteString("\ufeffpack,date,R (mOhm)\r\n")
	for i := range 10_000 {
		fmt.Fprintf(&b, "Blue 1,2025-%02d-%02d,%d\r\n", i%12+1, i%28+1, 50+i%40)
	}
	if p := look(t, b.String()); len(p.Rows) != 10_000 || p.Bad > 0 || p.Rows[9999].Line != 10_001 {
		t.Errorf("%d rows, %d bad: %+v", len(p.Rows), p.Bad, p.Rows[0])
	}
}

// FuzzLook: no text makes it panic, and every row that is not empty is told.
func FuzzLook(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.txt")
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		table, _, _ := strings.Cut(string(raw), "-----\n")
		f.Add(table, "", 0)
		f.Add(table, ";", 2)
	}
	f.Add("\"", ",", 0)
	f.Fuzz(func(t *testing.T, text, delimiter string, headRows int) {
		plans := []*Plan{nil, {Delimiter: delimiter}, {Delimiter: delimiter, HeadRows: headRows, Columns: []Column{{Field: PackCode}, {Field: TestDate}, {Field: Resistance}}}}
		for _, plan := range plans {
			p, err := Look(text, fleet(), nowMS, nil, plan)
			if err != nil {
				continue
			}
			told := p.Good + p.Bad + p.Again
			want := 0
			for _, r := range records(strings.ToValidUTF8(tidy(text), "\ufffd"), p.Plan.Delimiter, mostRows+100) {
				if r.line > p.Plan.HeadRows {
					want++
				}
			}
			if told != len(p.Rows) || told != want {
				t.Fatalf("%d rows told, %d in the list, %d in the file", told, len(p.Rows), want)
			}
			for _, r := range p.Rows {
				if (r.Problem == "") != (r.Body != nil) {
					t.Fatalf("%+v", r)
				}
			}
		}
	})
}

func BenchmarkLook10000(b *testing.B) {
	var s strings.Builder
	s.WriteString("pack,date,open (V),loaded (V),load (Ohm)\n")
	for i := range 10_000 {
		fmt.Fprintf(&s, "Blue 1,2025-%02d-%02d,12.8%d,12.6%d,10\n", i%12+1, i%28+1, i%10, i%9)
	}
	for b.Loop() {
		if _, err := Look(s.String(), fleet(), nowMS, nil, nil); err != nil {
			b.Fatal(err)
		}
	}
}
