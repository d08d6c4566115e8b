package season

import (
	"testing"

	"packwright/internal/loadtest"
	"packwright/internal/trend"
)

// rising is a pack that a test a week finds 1.5 mΩ higher each time, with some
// scatter; by the last one 6 mΩ are left to the limit.
func rising(t *testing.T) trend.Analysis {
	t.Helper()
	var tests []trend.Test
	for i, scatter := range []float64{0, 0.4, -0.3, 0.2, -0.4, 0.3, 0, -0.2, 0.1, 0} {
		tests = append(tests, trend.Test{
			ID: string(rune('a' + i)), AtMS: 1_790_000_000_000 + int64(i)*7*dayMS, Method: loadtest.KnownLoad,
			ResistanceOhm: 0.080 + 0.0015*float64(i) + scatter/1000, OwnStdUncOhm: 0.0002, LoadOhm: 3.3, Charge: loadtest.ChargeFull,
		})
	}
	a, err := trend.Analyse(tests, trend.Options{LimitOhm: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The band has 2.5 % on either side and the forecast's dates 5 %, so the band
// reaches over the limit before the first of them and stays below it until after
// the last.
func TestBandFitsTheForecast(t *testing.T) {
	a := rising(t)
	f := a.Forecast
	if a.Outcome != trend.Crossing || f.LatestMS == nil {
		t.Fatalf("%s: %s", a.Outcome, a.Text)
	}
	band := bandOf(&a)
	known := band[bandSteps]
	last := a.Series.Occasions[len(a.Series.Occasions)-1].AtMS
	if known.Ahead || known.AtMS != last || !band[bandSteps+1].Ahead || band[len(band)-1].AtMS != *f.LatestMS {
		t.Errorf("the band is known to %d and ends at %d, want %d and %d", known.AtMS, band[len(band)-1].AtMS, last, *f.LatestMS)
	}
	for i, p := range band {
		if i > 0 && p.AtMS <= band[i-1].AtMS || p.LowOhm >= p.Ohm || p.HighOhm <= p.Ohm {
			t.Fatalf("point %d is %+v after %+v", i, p, band[max(i-1, 0)])
		}
		if p.AtMS >= *f.EarliestMS && p.HighOhm < f.LimitOhm {
			t.Errorf("below the limit after the earliest crossing: %+v", p)
		}
		if p.LowOhm > f.LimitOhm {
			t.Errorf("above the limit before the latest crossing: %+v", p)
		}
	}
}

func TestNoBandWithoutALine(t *testing.T) {
	a := rising(t)
	a.Outcome = trend.Stepped
	stepped := bandOf(&a)
	a.Line = nil
	if without := bandOf(&a); len(stepped)+len(without)+len(bandOf(nil)) != 0 {
		t.Errorf("%d, %d points", len(stepped), len(without))
	}
}
