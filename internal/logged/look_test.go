package logged

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"packwright/internal/problem"
)

// TestLook: the ways loggers write the same three rows. The third is 12.7 V at
// 2 s with 1.5 A.
func TestLook(t *testing.T) {
	for name, text := range map[string]string{
		"comma":            "time_s,volts,amps\n0,12.9,0\n1,12.8,1\n2,12.7,1.5\n",
		"semicolon, comma": "Zeit (s);Spannung (V);Strom (A)\r\n0;12,9;0\r\n1;12,8;1\r\n2;12,7;1,5\r\n",
		"tab, comma":       "Time [s]\tU [V]\tI [A]\n0,0\t12,9\t0\n1,0\t12,8\t1\n2,0\t12,7\t1,5",
		"quoted":           "\"Time\",\"Voltage (V)\",\"Current (A)\"\n\"0,0\",\"12,9\",\"0,0\"\n\"1,0\",\"12,8\",\"1,0\"\n\"2,0\",\"12,7\",\"1,5\"\n",
		"order":            "Current (mA),note,Voltage (mV),t (ms)\n0,x,12900,0\n1000,y,12800,1000\n1500,z,12700,2000\n",
		"units below":      "Logger 7, made up\nrate,1 Hz\n\ntime,voltage,current\ns,V,A\n0,12.9,0\n1,12.8,1\n2,12.7,1.5\n",
		"clock":            "Time;V;A\n14:03:05;12.9;0\n14:03:06;12.8;1\n14:03:07;12.7;1.5\n",
		"clock, decimals":  "Time;V;A\n14:03:05,50;12,9;0\n14:03:06,50;12,8;1,0\n14:03:07,50;12,7;1,5\n",
		"m:s":              "Elapsed;V;A\n0:00;12.9;0\n0:01;12.8;1\n0:02;12.7;1.5\n",
		"iso":              "timestamp,V,A\n2026-11-25T14:03:05+01:00,12.9,0\n2026-11-25T14:03:06+01:00,12.8,1\n2026-11-25T13:03:07Z,12.7,1.5\n",
		"iso, space":       "timestamp,V,A\n2026-12-31 23:59:58.5,12.9,0\n2026-12-31 23:59:59.5,12.8,1\n2027-01-01 00:00:00.5,12.7,1.5\n",
		"minutes":          "min,V,A\n0,12.9,0\n0.016666666666667,12.8,1\n0.033333333333333,12.7,1.5\n",
		"no head":          "0,12.9,0\n1,12.8,1\n2,12.7,1.5\n",
		"bom, comment":     "\ufeff# made up\n# time,volts,amps\n0,12.9,0\n1,12.8,1\n2,12.7,1.5\n",
		"bom, no head":     "\ufeff0,12.9,0\n1,12.8,1\n2,12.7,1.5\n",
		"old line ends":    "time_s,volts,amps\r0,12.9,0\r1,12.8,1\r2,12.7,1.5\r",
		"other columns":    "time (s),T (°C),capacity (mAh),power (W),V,A\n0,21,0,0,12.9,0\n1,21,1,13,12.8,1\n2,21,2,19,12.7,1.5\n",
		"since 1970, ms":   "time,V,A\n1790000000000,12.9,0\n1790000001000,12.8,1\n1790000002000,12.7,1.5\n",
		"mV without unit":  "time_s,volts,amps\n0,12900,0\n1,12800,1\n2,12700,1.5\n",
		"signs, exponents": "time_s,volts,amps\n0,+12.9,-0\n1,1.28e1,1\n2,12.700000000000000000,.15E1\n",
	} {
		p, err := Look([]byte(text), true, 10, nil)
		if err != nil || p.Read != 3 || len(p.Rows) != 3 {
			t.Errorf("%s: %v %+v", name, err, p)
			continue
		}
		r := p.Rows[2]
		if !near(*r.TimeS, 2, 1e-6) || !near(*r.Volts, 12.7, 1e-12) || r.Amps == nil || !near(*r.Amps, 1.5, 1e-12) {
			t.Errorf("%s: %g s %g V %+v; %+v", name, *r.TimeS, *r.Volts, r.Amps, p.Format)
		}
		doubtful := name == "no head" || name == "bom, no head" || name == "m:s" || name == "mV without unit" || name == "quoted" || name == "bom, comment"
		if doubtful != (len(p.Doubts) > 0) {
			t.Errorf("%s: doubts %+v", name, p.Doubts)
		}
		if again, err := LookAs([]byte(text), true, 10, p.Format, nil); err != nil || again.Read != 3 || *again.Rows[2].Volts != *r.Volts {
			t.Errorf("%s: read again: %v", name, err)
		}
	}
}

// TestLookRefuses: a clear sentence for what is no log.
func TestLookRefuses(t *testing.T) {
	for want, text := range map[string]string{
		"the file is empty":             " \n\n",
		"a spreadsheet or an archive":   "PK\x03\x04abc",
		"UTF-16":                        "\xff\xfet\x00i\x00",
		"not text":                      "abc\x00def",
		"no row of readings was found":  "dear diary\ntoday I charged a pack\n",
		"no row of readings":            "time\n1\n2\n3\n",
		"decimal commas cannot be told": "time,volts,amps\n0,1,12,9,0,1\n0,2,12,8,0,2\n",
		"no row":                        "volts,amps,temp\n",
	} {
		p, err := Look([]byte(text), true, 10, nil)
		if e, ok := problem.As(err); !ok || !strings.Contains(e.Text, want) {
			t.Errorf("%q: %v %+v", want, err, p)
		}
	}
}

// TestIssues: every kind of bad row, told by line, and every row accounted for.
func TestIssues(t *testing.T) {
	var b strings.Builder
	b.WriteString("time_s,volts,amps\n") // line 1
	add := func(s string) { b.WriteString(s + "\n") }
	for i := range 40 { // lines 2 to 41, 0 to 39 s
		add(strings.Join([]string{itoa(i), "12.5", "1"}, ","))
	}
	add("40,OL,1")                             // 42
	add("41,12.5")                             // 43
	add("42,,1")                               // 44
	add("43,12500,1")                          // 45
	add("44,12.5,2000")                        // 46
	add("45,12.5,1")                           // 47
	add("7,12.5,1")                            // 48: slips back for one row
	add("46,12.5,1")                           // 49
	add("9999,12.5,1")                         // 50: slips ahead for one row
	add("47,12.5,1")                           // 51
	add("47,12.5,1")                           // 52: the same time
	add("100,12.5,1")                          // 53: a gap of 53 s
	add("101,12.5,1")                          // 54
	add("102,19,1")                            // 55: a spike
	add("103,12.5,1")                          // 56
	add("3,12.5,1")                            // 57: the clock is set back and stays
	add("4,12.5,1")                            // 58
	add("")                                    // 59
	add("# end")                               // 60
	add(strings.Repeat("9", 5000) + ",12.5,1") // 61
	add("5,12.5,1")                            // 62
	_, r, err := readAll(b.String(), Options{}, 7)
	if err != nil {
		t.Fatal(err)
	}
	for kind, want := range map[IssueKind][]int{
		Unreadable: {42, 44}, ShortRow: {43}, Impossible: {45, 46}, TimeSlip: {48, 50}, EqualTimes: {52}, Gap: {47, 53},
		Spike: {55}, ClockChange: {57}, LongLine: {61},
	} {
		var lines []int
		for _, i := range r.Issues {
			if i.Kind == kind {
				for _, f := range i.First {
					lines = append(lines, f.Line)
					if f.Text == "" {
						t.Errorf("%s: no words", kind)
					}
				}
			}
		}
		for i := range max(len(lines), len(want)) {
			if i >= len(lines) || i >= len(want) || lines[i] != want[i] {
				t.Errorf("%s: lines %v, want %v", kind, lines, want)
				break
			}
		}
	}
	if r.Rows+r.SetAside != 59 || r.SetAside != 8 {
		t.Errorf("%d used, %d set aside of 59", r.Rows, r.SetAside)
	}
	if !near(r.DurationS, 106, 1e-9) { // 103 s, the clock change one interval, and two more
		t.Errorf("%g s", r.DurationS)
	}
	if text := r.Issues[0].First[0].Text; text != `"OL" is not a voltage` {
		t.Error(text)
	}
}

func itoa(i int) string {
	if i < 10 {
		return string(rune('0' + i))
	}
	return itoa(i/10) + itoa(i%10)
}

// TestClockChanges: midnight and both changes of daylight saving leave a run of
// a row a minute as long as it was.
func TestClockChanges(t *testing.T) {
	clock := func(minute int, from, to, by int) string { // minute of the day, changed by so many minutes within [from, to)
		if minute >= from && minute < to {
			minute += by
		}
		minute = (minute + 1440) % 1440
		two := func(n int) string { return string([]byte{byte('0' + n/10), byte('0' + n%10)}) }
		return two(minute/60) + ":" + two(minute%60) + ":00"
	}
	const never = 1 << 30
	for name, c := range map[string]struct{ start, from, by, changes int }{
		"plain": {600, never, 0, 0}, "midnight": {1400, never, 0, 1},
		"autumn": {100, 180, -60, 1}, "spring": {60, 120, 60, 1},
	} {
		var b strings.Builder
		b.WriteString("time,volts,amps\n")
		for i := range 121 {
			b.WriteString(clock(c.start+i, c.from, never, c.by) + ",12.5,1.5\n")
		}
		_, r, err := readAll(b.String(), Options{}, 1000)
		if err != nil || !near(r.DurationS, 7200, 1e-6) || r.Rows != 121 || issueRows(r.Issues, ClockChange) != c.changes || issueRows(r.Issues, Gap) != 0 {
			t.Errorf("%s: %v, %g s, %d rows, %+v", name, err, r.DurationS, r.Rows, r.Issues)
		}
		if err == nil && !near(r.Charge.OutAh.Value, 3, 1e-9) {
			t.Errorf("%s: %g Ah", name, r.Charge.OutAh.Value)
		}
	}
}

// TestISO: dates of ISO 8601, checked against package time.
func TestISO(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Int64Range(-2_000_000_000, 4_000_000_000).Draw(t, "s")
		zone := rapid.IntRange(-14*4, 14*4).Draw(t, "quarter hours") * 15
		text, want := isoText(s, zone)
		if got, ok := isoTime([]byte(text)); !ok || got != want {
			t.Fatalf("%s: %g %t, want %g", text, got, ok, want)
		}
	})
	for _, bad := range []string{"2026-02-29 10:00:00", "2026-13-01 10:00:00", "2026-11-25 25:00:00", "2026-11-25 10:60:00", "2026-11-25T10:00:00+1", "2026-11-25"} {
		if v, ok := isoTime([]byte(bad)); ok {
			t.Errorf("%s: %g", bad, v)
		}
	}
}

// TestNumber against strconv.
func TestNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e9, 1e9).Draw(t, "v")
		for _, text := range numberTexts(v) {
			want := mustParse(text)
			if got, ok := number([]byte(text), '.'); !ok || got != want {
				t.Fatalf("%s: %x, want %x", text, got, want)
			}
			if got, ok := number([]byte(strings.Replace(text, ".", ",", 1)), ','); !ok || got != want {
				t.Fatalf("%s with a comma: %g %t", text, got, ok)
			}
		}
	})
	for _, bad := range []string{"", "-", "+", ".", "1.2.3", "1,2", "0x10", "inf", "NaN", "1_0", "1e", "e5", "--1", "12 V", "1e999"} {
		if v, ok := number([]byte(bad), '.'); ok {
			t.Errorf("%q: %g", bad, v)
		}
	}
}

// TestChunks: a file gives the same result whatever the chunks, and every row
// is used or told.
func TestChunks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := driven(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(2, 300).Draw(t, "rows"), 0.1, newPack(0.1, 0.02))
		lines := strings.Split(strings.TrimSpace(asCSV("time_s;volts;amps", ";", ",", rows)), "\n")
		for range rapid.IntRange(0, 5).Draw(t, "spoiled") {
			lines[rapid.IntRange(1, len(lines)-1).Draw(t, "line")] = rapid.SampledFrom([]string{"", "x", "1;2", "NaN;1;2", "5;12,0;0", ";;", "1e9;12;1", "-3;12;1"}).Draw(t, "text")
		}
		text := strings.Join(lines, "\n")
		f := Format{Delimiter: ";", Decimal: ",", LineEnd: "\n", FirstRow: 2, TimeColumn: 1, VoltColumn: 2, AmpColumn: 3, TimeUnit: Seconds, VoltUnit: "V", AmpUnit: "A"}
		read := func(chunk int) (Result, int, error) {
			a, err := Open(f, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for b := []byte(text); len(b) > 0; b = b[min(chunk, len(b)):] {
				_, _ = a.Write(b[:min(chunk, len(b))])
			}
			r, err := a.Finish()
			return r, a.Rows(), err
		}
		whole, n, err := read(len(text))
		parts, n2, err2 := read(rapid.IntRange(1, 100).Draw(t, "chunk"))
		if (err == nil) != (err2 == nil) || n != n2 {
			t.Fatal(err, err2, n, n2)
		}
		if err != nil {
			return
		}
		if whole.Rows+whole.SetAside != n {
			t.Fatalf("%d used and %d set aside of %d", whole.Rows, whole.SetAside, n)
		}
		if whole.Charge.OutAh.Value != parts.Charge.OutAh.Value || whole.Voltage != parts.Voltage || whole.Rows != parts.Rows {
			t.Fatal("chunks matter")
		}
		if whole.DurationS <= 0 || math.IsNaN(whole.Charge.OutAh.Value) || math.IsNaN(whole.Charge.OutWh.Value) {
			t.Fatalf("%+v", whole)
		}
	})
}

// FuzzRead: no bytes make it fail, hang, or lose a row.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"time_s,volts,amps\n0,12.9,0\n1,12.8,1\n", "t;U\n0:00;12,9\n0:01;12,8\n", "\"0,0\"\t\"1\"\n", "2026-11-25 10:00:00,12\n2026-11-25 10:00:01,12\n", "0,1,2\r1,2,3\r"} {
		f.Add([]byte(s), 3)
	}
	f.Fuzz(func(t *testing.T, data []byte, chunk int) {
		chunk = max(1, chunk&0xff)
		p, err := Look(data, true, 10, nil)
		if err != nil {
			if _, ok := problem.As(err); !ok {
				t.Fatal(err)
			}
			return
		}
		a, err := Open(p.Format, Options{RatedAh: 3, BrownoutV: 9})
		if err != nil {
			t.Fatalf("%v: %+v", err, p.Format)
		}
		for b := data; len(b) > 0; b = b[min(chunk, len(b)):] {
			_, _ = a.Write(b[:min(chunk, len(b))])
		}
		r, err := a.Finish()
		if err != nil {
			if _, ok := problem.As(err); !ok {
				t.Fatal(err)
			}
			return
		}
		if r.Rows+r.SetAside != a.Rows() {
			t.Fatalf("%d used and %d set aside of %d", r.Rows, r.SetAside, a.Rows())
		}
		if math.IsNaN(r.Voltage.LowestV) || !(r.DurationS > 0) || r.Charge != nil && math.IsNaN(r.Charge.OutAh.Value) {
			t.Fatalf("%+v", r)
		}
	})
}
