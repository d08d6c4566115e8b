package charging

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	ical "github.com/emersion/go-ical"
)

// parse reads a calendar by an independent library, whose writer must find every
// required property in it and none too often (RFC 5545 3.6).
func parse(t *testing.T, text string) []ical.Event {
	t.Helper()
	for n, line := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if strings.ContainsAny(line, "\r\n") || len(line) > 75 || !utf8.ValidString(line) || line == "" {
			t.Fatalf("line %d, %d octets: %q", n+1, len(line), line)
		}
	}
	if !strings.HasSuffix(text, "END:VCALENDAR\r\n") {
		t.Fatalf("ends with %q", text[max(0, len(text)-20):])
	}
	c, err := ical.NewDecoder(strings.NewReader(text)).Decode()
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if err := ical.NewEncoder(&bytes.Buffer{}).Encode(c); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return c.Events()
}

func textOf(t *testing.T, e ical.Event, name string) string {
	t.Helper()
	text, err := e.Props.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestCalendar(t *testing.T) {
	due := Summarise([]Charge{fast("A", 100, 2, 2.2)}, 3, ptr(nowMS-10*day), ptr[int64](nowMS), rules, nowMS).Due
	items := Items("7K3QX9", "Größe; zwei, \\drei", due, nowMS)
	events := parse(t, Calendar(items, nowMS+37_805_000, nil))
	if len(events) != 4 {
		t.Fatalf("%d events", len(events))
	}
	for i, e := range events {
		start := e.Props.Get(ical.PropDateTimeStart)
		at, err := start.DateTime(time.UTC)
		if err != nil || start.Params.Get("VALUE") != "DATE" || at.UnixMilli() != max(due[i].DayMS, nowMS)/day*day {
			t.Errorf("%s: on %v, due %d, %v", due[i].Kind, at, due[i].DayMS, err)
		}
		if got, want := textOf(t, e, "UID"), "7k3qx9-"+due[i].Kind+"@packwright"; got != want {
			t.Errorf("UID %s, want %s", got, want)
		}
		if got := e.Props.Get("DTSTAMP").Value; got != "20261125T103005Z" {
			t.Errorf("DTSTAMP %s", got)
		}
		if got := textOf(t, e, "SUMMARY"); !strings.Contains(got, "Größe; zwei, \\drei") || got != items[i].Title {
			t.Errorf("title %q", got)
		}
		if got := textOf(t, e, "DESCRIPTION"); got != items[i].Text {
			t.Errorf("text %q, want %q", got, items[i].Text)
		}
	}
	if over := items[0]; due[0].Kind != DueTopUp || over.DayMS != nowMS || !strings.Contains(over.Text, "Charge attended") {
		t.Errorf("what is over belongs on today, with its caution: %+v", over)
	}
}

// TestText: the example of RFC 5545 3.3.11, and what may not stand in a line.
func TestText(t *testing.T) {
	for text, want := range map[string]string{
		"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.": `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`,
		"a\r\nb\rc\u2028d":      `a\nb\nc\nd`,
		"\x00\x07tab\t\x7f\xff": "tab\t\uFFFD",
		`one; two, \three: "4"`: `one\; two\, \\three: "4"`,
	} {
		if got := escape(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// TestFolding: lines of every length about the limit of 75 octets, in characters
// of one to four octets (RFC 5545 3.1).
func TestFolding(t *testing.T) {
	for _, char := range []string{"x", "é", "Ω", "🔋"} {
		for n := 1; n < 160; n++ {
			title := strings.Repeat(char, n)
			text := Calendar([]CalendarItem{{UID: "a", DayMS: nowMS, Title: title}}, nowMS, nil)
			if got := textOf(t, parse(t, text)[0], "SUMMARY"); got != title {
				t.Fatalf("%d × %s: %q", n, char, got)
			}
		}
	}
	var w writer
	w.line(strings.Repeat("x", 75))
	w.line(strings.Repeat("y", 76))
	if want := strings.Repeat("x", 75) + "\r\n" + strings.Repeat("y", 75) + "\r\n y\r\n"; w.text.String() != want {
		t.Errorf("%q", w.text.String())
	}
}

// TestCalendarEdges: no component, no calendar; no repeated UID; no year of five digits.
func TestCalendarEdges(t *testing.T) {
	for name, items := range map[string][]CalendarItem{
		"none": nil, "no UID": {{DayMS: nowMS}}, "before 1970": {{UID: "a", DayMS: -1}}, "year 10000": {{UID: "a", DayMS: lastMS + 1}},
	} {
		if got := Calendar(items, nowMS, nil); got != "" {
			t.Errorf("%s: %q", name, got)
		}
	}
	events := parse(t, Calendar([]CalendarItem{{UID: "a", DayMS: lastMS, Title: "first"}, {UID: "a"}, {UID: "b"}}, -5, nil))
	if len(events) != 2 || events[0].Props.Get("DTSTART").Value != "99991231" || events[1].Props.Get("DTSTART").Value != "19700101" {
		t.Errorf("%+v", events)
	}
}

// FuzzCalendar: whatever a pack is called, an independent parser reads the same
// back, but for control characters and kinds of line end.
func FuzzCalendar(f *testing.F) {
	for _, seed := range []string{"", "Alpha", "a;b,c\\n", "\r\nEND:VEVENT\r\n", strings.Repeat("Ω", 80), "\xff\xfe", " leading", "\u0085\u2028\u2029", "x\\"} {
		f.Add(seed, seed)
	}
	lines := strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n")
	plain := func(text string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsControl(r) && r != '\n' && r != '\t' {
				return -1
			}
			return r
		}, lines.Replace(strings.ToValidUTF8(text, "\uFFFD")))
	}
	f.Fuzz(func(t *testing.T, title, text string) {
		e := parse(t, Calendar([]CalendarItem{{UID: "a" + title, DayMS: nowMS, Title: title, Text: text}}, nowMS, nil))
		if len(e) != 1 {
			t.Fatalf("%d events", len(e))
		}
		for name, want := range map[string]string{"UID": "a" + plain(title), "SUMMARY": plain(title), "DESCRIPTION": plain(text)} {
			if got := textOf(t, e[0], name); got != want {
				t.Fatalf("%s: %q, want %q", name, got, want)
			}
		}
	})
}

func BenchmarkCalendar(b *testing.B) {
	var items []CalendarItem
	for i := range 400 {
		items = append(items, CalendarItem{UID: fmt.Sprint(i), DayMS: nowMS, Title: "Top up Alpha", Text: strings.Repeat("last charged 95 days ago ", 6)})
	}
	for b.Loop() {
		Calendar(items, nowMS, nil)
	}
}
