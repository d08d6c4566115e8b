package diagnose

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"packwright/internal/journal"
)

var nan = math.NaN()

func within(got, want, by float64) bool { return math.Abs(got-want) <= by }

// A shorted or reversed cell takes 1.2 to 1.3 V off (common practice, no source).
func TestLostCell(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	short := func(volts float64, tests ...int) Pack {
		p := aPack("A", steady(r, 0.08, 10)...)
		for _, i := range tests {
			p.Tests[i].OpenV = new(13.4 - volts)
		}
		return p
	}
	is(t, "in three tests", examine(short(1.25, 7, 8, 9)), LostCell, Plain, false)
	is(t, "in the latest", examine(short(1.25, 9)), LostCell, Likely, false)
	is(t, "it came back: it was not charged", examine(short(1.25, 6)), NotReady, Plain, true)
	is(t, "half a cell is charge", examine(short(0.6, 9)), NotReady, Plain, false)
	is(t, "from the first test on", examine(short(1.25, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9)), LostCell, Likely, false)
	if f := find(examine(short(2.5, 8, 9)), LostCell); f == nil || f.Title != "2 cells are lost" {
		t.Errorf("two cells: %+v", f)
	}
	alone := Examine(short(1.25, 8, 9), nil, 0.1, Rules{}, nil)
	is(t, "without sisters", alone, LostCell, Likely, false)

	fresh := short(1.25, 4, 5, 6, 8, 9)
	if f := find(examine(fresh), LostCell); f == nil || f.Tests[0] != "A-4" {
		t.Errorf("a single reading in between is not believed: %+v", f)
	}
	mended := short(1.25, 5, 6)
	mended.Repairs = []Repair{{AtMS: onDay(7*7 - 1), Part: journal.RepairCells}}
	if f := find(examine(mended), LostCell); f != nil {
		t.Errorf("new cells: %+v", f)
	}

	low := sisters(6, 10)
	for i := range low {
		low[i].Tests[9].OpenV = new(12.15)
	}
	none(t, "all of them on one day: the meter, or nobody charged", Examine(low[0], low[1:], 0, Rules{}, nil))
}

// Whatever comes, it answers.
func TestBadInput(t *testing.T) {
	same := aPack("A", steady(rand.New(rand.NewPCG(1, 9)), 0.08, 20)...)
	for i := range same.Tests {
		same.Tests[i].AtMS = day0
	}
	odd := aPack("A", steady(rand.New(rand.NewPCG(1, 9)), 0.08, 20)...)
	for i := range odd.Tests {
		x := &odd.Tests[i]
		switch i % 8 {
		case 0:
			x.ResistanceOhm = nan
		case 1:
			x.OpenV, x.RestedMin, x.TemperatureC = &nan, &nan, &nan
		case 2:
			x.AtMS = math.MinInt64
		case 3:
			x.ScatterOhm, x.ExplainedOhm = math.Inf(1), nan
		case 4:
			x.OwnStdUncOhm, x.LoadOhm = nan, -1
		case 5:
			x.AtMS = math.MaxInt64
		case 6:
			x.ID = "same"
		}
	}
	odd.RatedAh, odd.Cells = nan, -3
	odd.Capacities = []Capacity{{SharePct: nan, PlusPct: nan, Reached: true}, {SharePct: math.Inf(1), Reached: true}}
	odd.Charges = []Charge{{Full: true}, {Full: true, Stored: true, PutInAh: &nan}, {StartMS: math.MaxInt64, AtMS: math.MinInt64, Full: true, Stored: true, PutInAh: new(1.0)}}
	odd.Repairs = []Repair{{AtMS: math.MaxInt64, Part: journal.RepairLead}, {AtMS: math.MinInt64, Part: journal.RepairCells}, {AtMS: onDay(30), Part: "?"}}
	odd.Wiggles = []Wiggle{{}, {AtMS: math.MaxInt64, Wiggle: aWiggle(nan)}}
	many := make([]Pack, 3)
	for i := range many {
		many[i] = aPack("M"+strconv.Itoa(i), steady(rand.New(rand.NewPCG(1, uint64(i))), 0.08, 10_000)...)
	}
	for _, packs := range [][]Pack{{aPack("A")}, {aPack("A", 0.08)}, {aPack("A", 0.08, 0.09)}, {same}, {odd}, {odd, same, odd}, many, {aPack("A", steady(rand.New(rand.NewPCG(1, 9)), 0.08, 25_000)...)}} {
		f := Survey(packs, Rules{RestMin: nan, CapacityGoodPct: nan, ChargeFactor: -1, ReferencePack: "nobody"})
		for _, p := range packs {
			if r := f.Examine(p.Code, nan, nil); r.Findings == nil {
				t.Errorf("%s: no list of findings", p.Code)
			}
		}
	}
	if r := Survey(nil, Rules{}).Examine("nobody", 0.1, nil); len(r.Findings) != 0 || r.NextTest != nil {
		t.Errorf("%+v", r)
	}
}
