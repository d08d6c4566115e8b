package stock_test

import (
	"fmt"

	"packwright/internal/stock"
)

// An invented fleet of six, asked about a day in 60 days.
func ExampleCompute() {
	const day, now = 86_400_000, 1_795_564_800_000 // 25 Nov 2026
	var packs []stock.Pack
	for i, p := range []float64{0.99, 0.98, 0.95, 0.7, 0.2, 0} {
		days := 12.0
		packs = append(packs, stock.Pack{Code: fmt.Sprint(i), Name: string(rune('A' + i)), FitNow: p > 0, Outcome: "competition", FitThen: p, FitThenKnown: true, DaysSinceTest: &days, Rising: p > 0 && p < 0.9})
	}
	p := stock.Compute(packs, stock.Question{NowMS: now, ThenMS: now + 60*day, Wanted: 5, WantedPct: 90, Price: 45, Currency: "EUR", DeliveryDays: 20, NewFit: 0.95, RetestDays: 30})
	fmt.Printf("fit now %d, then %.1f: %d to %d; 5 or more with %.0f %%\n", p.Now, p.Expected, p.Low, p.High, p.SurePct)
	fmt.Println(p.Buy.Text)
	for _, t := range p.Test {
		fmt.Println(t.Name, t.Rank, t.Why)
	}
	// Output:
	// fit now 5, then 3.8: 3 to 5; 5 or more with 13 %
	// buy 2, ordered by 4 Jan 2027: then 5 packs fit on 24 Jan 2027 with 95 %; 2 × 45 = 90 EUR
	// D 1.4 [its resistance rises]
	// E 1.4 [its resistance rises]
}
