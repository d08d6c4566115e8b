package charging

import (
	"strings"
	"unicode/utf8"

	"packwright/internal/place"
)

// CalendarItem is one day's entry in a calendar.
type CalendarItem struct {
	UID   string // always the same for the same thing: reading the file in again then moves it
	DayMS int64  // unix ms
	Title string
	Text  string
}

// Items makes calendar items of what is due for one pack. What is over is put on
// today, and a pack has one item of a kind at most, under the same UID for ever.
func Items(code, name string, due []Due, nowMS int64) []CalendarItem {
	var items []CalendarItem
	for _, d := range due {
		i := CalendarItem{UID: strings.ToLower(code) + "-" + d.Kind + "@packwright", DayMS: max(d.DayMS, nowMS), Text: d.Text + " (" + d.Rule + ")"}
		switch d.Kind {
		case DueTopUp:
			i.Title = "Top up " + name
			i.Text += caution
		case DueConditioning:
			i.Title = "Slow cycle for " + name
			i.Text += caution
		case DueCapacity:
			i.Title = "Capacity check of " + name
		default:
			i.Title = "Test " + name
		}
		items = append(items, i)
	}
	return items
}

const caution = "\nCharge attended, on something that does not burn, never a damaged or hot pack. The charger's instructions come first."

// lastMS is the last millisecond of the year 9999: a year has four digits (RFC
// 5545 3.3.4).
const lastMS = 253402300799999

// Calendar writes a calendar file by RFC 5545, an event of a whole day for each
// item. It is empty for no items, since a calendar must have one component
// (3.6). An item without UID, with one that was there already, or on a day
// outside the years 1970 to 9999 is left out. Days are those of the clock.
//
// There are no alarms: a whole day's event would sound at midnight, and every
// calendar has its own setting for that. The events leave the day free
// (TRANSP:TRANSPARENT).
func Calendar(items []CalendarItem, nowMS int64, clock place.Clock) string {
	w := &writer{}
	seen := map[string]bool{}
	stamp := compact(min(max(nowMS, 0), lastMS))
	for _, i := range items {
		uid := escape(i.UID)
		if uid == "" || seen[uid] || i.DayMS < 0 || i.DayMS > lastMS {
			continue
		}
		seen[uid] = true
		w.line("BEGIN:VEVENT")
		w.line("UID:" + uid)
		w.line("DTSTAMP:" + stamp)
		w.line("DTSTART;VALUE=DATE:" + strings.ReplaceAll(clock.Date(i.DayMS), "-", ""))
		w.line("SUMMARY:" + escape(i.Title))
		if i.Text != "" {
			w.line("DESCRIPTION:" + escape(i.Text))
		}
		w.line("TRANSP:TRANSPARENT")
		w.line("END:VEVENT")
	}
	if len(seen) == 0 {
		return ""
	}
	return "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//packwright//packwright//EN\r\nCALSCALE:GREGORIAN\r\n" + w.text.String() + "END:VCALENDAR\r\n"
}

// compact writes a time as 20260314T103000Z (3.3.5).
func compact(ms int64) string {
	return strings.ReplaceAll(strings.ReplaceAll(place.TimeText(ms-ms%1000), "-", ""), ":", "")
}

// writer folds lines.
type writer struct{ text strings.Builder }

// lineOctets is the longest line without its end (RFC 5545 3.1).
const lineOctets = 75

// line writes one content line, folded between characters. A line that goes on
// begins with a space, which counts.
func (w *writer) line(content string) {
	room := lineOctets
	for len(content) > room {
		cut := room
		for !utf8.RuneStart(content[cut]) {
			cut--
		}
		w.text.WriteString(content[:cut])
		w.text.WriteString("\r\n ")
		content, room = content[cut:], lineOctets-1
	}
	w.text.WriteString(content)
	w.text.WriteString("\r\n")
}

// escape makes a TEXT value (RFC 5545 3.3.11). Every kind of line end becomes a
// newline, other control characters are left out (3.1), and what is not UTF-8
// becomes the replacement character.
func escape(text string) string {
	var b strings.Builder
	text = strings.ToValidUTF8(text, "\uFFFD")
	for i, r := range text {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\r' && strings.HasPrefix(text[i+1:], "\n"):
			// the newline follows
		case r == '\n' || r == '\r' || r == '\u0085' || r == '\u2028' || r == '\u2029':
			b.WriteString(`\n`)
		case r < ' ' && r != '\t' || r >= 0x7f && r < 0xa0:
			// a control character
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
