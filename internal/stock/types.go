package stock

import "packwright/internal/place"

// Pack is one pack as planning sees it.
type Pack struct {
	Code          string
	Name          string
	FitNow        bool    // competition, by the decision
	Outcome       string  // see judge.Outcome
	FitThen       float64 // probability of being fit on the asked day, 0 to 1; of being fit today where not FitThenKnown
	FitThenKnown  bool    // from a forecast; otherwise Compute takes FitThen over from today with doubt
	DaysSinceTest *float64
	Closeness     *float64 // |R − limit| / U; nil where there is no result
	Rising        bool     // its trend rises
	CrossingMS    *int64   // unix ms, likely day of crossing
	Findings      int      // open findings that a test would settle
	Untested      bool
	Held          bool   // not to be tested now: something graver comes first
	Mended        string // "mended on 24 Nov 2026, not tested since"; empty otherwise
	Rests         bool   // the team's reference pack: not taken to events, and not counted
}

// Question is what is asked.
type Question struct {
	NowMS, ThenMS int64   // unix ms
	Wanted        int     // packs fit for competition then
	WantedPct     float64 // percent, how sure
	Price         float64 // of one; 0 unknown
	Currency      string
	DeliveryDays  float64 // day
	NewFit        float64 // probability that a new pack is fit
	RetestDays    float64
	Clock         place.Clock // of whoever asks
}

// Share is the probability of exactly so many packs.
type Share struct {
	Packs int     `json:"packs"`
	P     float64 `json:"p"`
}

// Buy is what to buy, and by when.
type Buy struct {
	Packs     int      `json:"packs"`
	ByMS      *int64   `json:"by_ms"` // unix ms, last day to order; null where none is needed
	TooLate   bool     `json:"too_late"`
	Reached   bool     `json:"reached"`  // with Packs new ones the wanted number is sure enough; if not, Packs is 0 and SurePct without any
	SurePct   float64  `json:"sure_pct"` // percent, with them, of having the wanted number
	Cost      *float64 `json:"cost"`     // null without a price
	Currency  string   `json:"currency"`
	Text      string   `json:"text"`
	Short     string   `json:"short"`      // in a few words, without what it costs
	TestFirst string   `json:"test_first"` // where packs that were never tested could make it fewer; or empty
}

// ToTest is one line of the list of what to test next.
type ToTest struct {
	Code string   `json:"code"`
	Name string   `json:"name"`
	Rank float64  `json:"rank"` // greater is sooner
	Why  []string `json:"why"`
}

// Plan is the answer.
type Plan struct {
	Now      int      `json:"now"`    // fit for competition today
	Wanted   int      `json:"wanted"` // fit then; 0: no number
	ThenMS   int64    `json:"then_ms"`
	Expected float64  `json:"expected"` // mean number then
	Low      int      `json:"low"`      // Low to High packs with 95 % or more:
	High     int      `json:"high"`     // at most 2.5 % lie on either side
	Shares   []Share  `json:"shares"`   // by number, all of them
	SurePct  float64  `json:"sure_pct"` // percent, of having the wanted number without buying
	Unknown  []string `json:"unknown"`  // names of packs whose future is only taken over from today
	Doubtful string   `json:"doubtful"` // why more may be fit then than are now; or empty
	Buy      Buy      `json:"buy"`
	Test     []ToTest `json:"test"`  // most useful first
	Shown    int      `json:"shown"` // how many of them are shown at first, on screen and on paper
	Rules    []string `json:"rules"` // how it was worked out, in sentences
}
