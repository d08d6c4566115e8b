package season

import (
	"packwright/internal/measure"
	"packwright/internal/trend"
)

const (
	bandSteps = 24 // a band bends slowly
	dayMS     = 86_400_000.0
)

// bandOf is the trend's line from its first test to its latest, and for a line
// that rises towards the limit as far ahead as the forecast goes.
func bandOf(a *trend.Analysis) []BandPoint {
	band := []BandPoint{}
	if a == nil || a.Line == nil || a.Outcome == trend.Stepped || len(a.Series.Occasions) == 0 {
		return band
	}
	start, last := a.Series.StartMS, a.Series.Occasions[len(a.Series.Occasions)-1].AtMS
	band = addBand(band, a, start, last, false)
	if f := a.Forecast; f != nil && (a.Outcome == trend.Crossing || a.Outcome == trend.BeyondHorizon) {
		end := f.HorizonMS
		if f.LatestMS != nil {
			end = *f.LatestMS
		}
		if end > last {
			band = addBand(band, a, last, end, true)
		}
	}
	return band
}

func addBand(band []BandPoint, a *trend.Analysis, from, to int64, ahead bool) []BandPoint {
	for i := 0; i <= bandSteps; i++ {
		if ahead && i == 0 {
			continue // the latest test is there already
		}
		at := from + (to-from)*int64(i)/bandSteps
		e := a.Line.At(float64(at-a.Series.StartMS) / dayMS)
		u := measure.CoverageFactor(e.DoF) * e.StdUnc
		band = append(band, BandPoint{AtMS: at, Ohm: e.Value, LowOhm: e.Value - u, HighOhm: e.Value + u, Ahead: ahead})
	}
	return band
}
