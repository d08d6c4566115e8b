package charging_test

import (
	"fmt"
	"strings"

	"packwright/internal/charging"
)

// One charge of an invented pack of 3 Ah, twelve days ago, and what it needs.
func ExampleSummarise() {
	const day, now = 86_400_000, 1_795_564_800_000 // 2026-11-25
	amps, missing, in, tested := 1.5, 2.0, 2.3, int64(now-9*day)
	s := charging.Summarise([]charging.Charge{{
		StartedMS: now - 12*day, Purpose: "use", CurrentA: &amps, MissingAh: &missing, PutInAh: &in, Ended: "full",
	}}, 3, &tested, &tested, charging.Rules{ChargeFactor: 1.1, SelfDischargePctMonth: 30, TopUpDays: 90, ConditionDays: 180, RetestDays: 30}, now)
	fmt.Println(s.Checks[0].Verdict+":", s.Checks[0].Text)
	fmt.Println(s.LeftText)
	for _, d := range s.Due[:2] {
		fmt.Printf("in %d days: %s, %s\n", (d.DayMS-now)/day, d.Kind, d.Text)
	}
	file := charging.Calendar(charging.Items("7K3QX9", "Alpha", s.Due[:1], now), now, nil)
	fmt.Print(strings.ReplaceAll(file, "\r\n", "\n"))
	// Output:
	// as-expected: 2.3 Ah went in, about 2.2 Ah were expected
	// about 87 %, if it was full and not used since: with 30 % lost in 30 days; published losses of 10 % to 35 % leave 84 % to 96 %, warmth takes more
	// in 21 days: test, last tested 9 days ago
	// in 78 days: top-up, last charged 12 days ago
	// BEGIN:VCALENDAR
	// VERSION:2.0
	// PRODID:-//packwright//packwright//EN
	// CALSCALE:GREGORIAN
	// BEGIN:VEVENT
	// UID:7k3qx9-test@packwright
	// DTSTAMP:20261125T000000Z
	// DTSTART;VALUE=DATE:20261216
	// SUMMARY:Test Alpha
	// DESCRIPTION:last tested 9 days ago (every 30 days\; common practice is ever
	//  y two to four weeks in the season)
	// TRANSP:TRANSPARENT
	// END:VEVENT
	// END:VCALENDAR
}
