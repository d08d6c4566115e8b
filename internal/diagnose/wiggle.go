package diagnose

import (
	"math"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// WiggleSpot is what one place of the lead showed.
type WiggleSpot struct {
	Place   journal.WigglePlace `json:"place"`
	ChangeV float64             `json:"change_v"` // volt, highest less lowest, less what it is with nothing moved
	PlusV   float64             `json:"plus_v"`   // volt, expanded uncertainty of that, 95 %
	Ohm     *float64            `json:"ohm"`      // ohm that the moving adds; null without a change
	Suspect bool                `json:"suspect"`
}

// WiggleResult is what a wiggle test says.
type WiggleResult struct {
	Spots    []WiggleSpot    `json:"spots"` // in the order given
	Text     string          `json:"text"`  // one sentence
	Cautions []string        `json:"cautions"`
	Working  []loadtest.Step `json:"working"`
}

// suspectOhm is the resistance that a sound contact never adds when it is moved: 3 to 5 mΩ
// is where contacts are rejected (common practice, no source).
const suspectOhm = 0.003

var placeWords = []struct {
	place journal.WigglePlace
	words string
}{
	{journal.Still, "with nothing moved"}, {journal.AtConnector, "at the connector"}, {journal.LeadAtConnector, "where the lead enters the connector"},
	{journal.LeadMiddle, "in the middle of the lead"}, {journal.AtFuse, "at the fuse"}, {journal.LeadAtPack, "where the lead enters the pack"},
}

func wordsOf(p journal.WigglePlace) string {
	for _, w := range placeWords {
		if w.place == p {
			return w.words
		}
	}
	return "at " + string(p)
}

// JudgeWiggle says at which places moving the lead changed the voltage on load by
// more than the meter's last digits explain.
//
// A place's swing is its highest less its lowest reading, taken within seconds, so
// that the slow sinking on load cancels; from it goes the swing with nothing moved. The
// gain of the meter cancels to first order; what stays is the last digits of four
// readings, each n·resolution/√3 (JCGM 100 4.3.7). The resistance that moving adds
// follows from V ∝ 1/(R_L + r): δ = R_L·(V_high/V_low − 1), as long as the pack's own
// resistance is small beside the load. Errors are problems: readings that cannot
// be, or nothing to compare with.
func JudgeWiggle(w journal.Wiggle) (WiggleResult, error) {
	if err := checkWiggle(&w); err != nil {
		return WiggleResult{}, err
	}
	still := 0.0
	for _, s := range w.Spots {
		if s.Place == journal.Still {
			still = max(still, s.HighV-s.LowV)
		}
	}
	digit := measure.Rectangular(0, w.Meter.Counts*w.Meter.ResolutionV).StdUnc
	plus := 2 * 2 * digit // four readings, coverage factor 2
	r := WiggleResult{Spots: make([]WiggleSpot, len(w.Spots)), Cautions: wiggleCautions(), Working: []loadtest.Step{}}
	for i, s := range w.Spots {
		spot := WiggleSpot{Place: s.Place, ChangeV: math.Max(0, s.HighV-s.LowV-still), PlusV: plus}
		if s.Place == journal.Still {
			spot.ChangeV = s.HighV - s.LowV
		} else if spot.ChangeV > 0 {
			ohm := w.LoadOhm * spot.ChangeV / s.LowV
			spot.Ohm = &ohm
			spot.Suspect = spot.ChangeV > plus && ohm > suspectOhm
		}
		r.Spots[i] = spot
		r.work(s, &spot, still, w.LoadOhm)
	}
	r.Text = r.sentence(still, plus)
	return r, nil
}

// worst is the suspect place that changes most, or nil.
func (r *WiggleResult) worst() *WiggleSpot {
	var worst *WiggleSpot
	for i := range r.Spots {
		if s := &r.Spots[i]; s.Suspect && (worst == nil || s.ChangeV > worst.ChangeV) {
			worst = s
		}
	}
	return worst
}

func (r *WiggleResult) sentence(still, plus float64) string {
	worst := r.worst()
	switch {
	case worst != nil:
		return "moving it " + wordsOf(worst.Place) + " changes the voltage by " + measure.ShowInterval(worst.ChangeV, worst.PlusV, "V") + ", as " + measure.ShowRough(*worst.Ohm*1000, "mΩ") + " more would: look there first"
	case still > plus:
		return "the reading swings by " + measure.ShowRough(still, "V") + " with nothing moved: see to the plugs of load and meter, then do it again"
	}
	return "no place changes the voltage by more than the meter's last digits, " + measure.ShowRough(plus, "V") + ": the lead seems sound"
}

func (r *WiggleResult) work(s journal.WiggleSpot, spot *WiggleSpot, still, loadOhm float64) {
	step := loadtest.Step{
		Label: "change " + wordsOf(s.Place), Formula: "ΔV = (V_high − V_low) − ΔV_still",
		Numbers: "(" + measure.Show(s.HighV, "V") + " − " + measure.Show(s.LowV, "V") + ") − " + measure.Show(still, "V"),
		Result:  measure.ShowRough(spot.ChangeV, "V"),
	}
	if s.Place == journal.Still {
		step.Formula, step.Numbers = "ΔV_still = V_high − V_low", measure.Show(s.HighV, "V")+" − "+measure.Show(s.LowV, "V")
	}
	r.Working = append(r.Working, step)
	if spot.Ohm != nil {
		r.Working = append(r.Working, loadtest.Step{
			Label: "as resistance", Formula: "δ = R_L · ΔV / V_low",
			Numbers: measure.Show(loadOhm, "Ω") + " · " + measure.ShowRough(spot.ChangeV, "V") + " / " + measure.Show(s.LowV, "V"), Result: measure.ShowRough(*spot.Ohm, "Ω"),
		})
	}
}

const mostSpots = 50

// checkWiggle refuses what cannot be judged.
func checkWiggle(w *journal.Wiggle) error {
	possible := func(v, most float64) bool { return v > 0 && v <= most }
	switch {
	case !possible(w.LoadOhm, 1e6):
		return problem.Invalidf("load_ohm", "enter the load in ohm, such as 2.5", "a load of %s is not possible", measure.Show(w.LoadOhm, "Ω"))
	case !possible(w.Meter.ResolutionV, 1) || !(w.Meter.Counts >= 0 && w.Meter.Counts <= 1000):
		return problem.Invalidf("meter", "enter the volts of its last digit and its accuracy in digits, such as 0.01 V and 2", "the meter's last digit is not known")
	case len(w.Spots) > mostSpots:
		return problem.New(problem.TooLarge, "a place needs one pair of readings", "%d places are more than %d", len(w.Spots), mostSpots)
	}
	still, moved := false, false
	for _, s := range w.Spots {
		if !possible(s.LowV, 100) || !possible(s.HighV, 100) {
			return problem.Invalidf("spots", "read both again, in volt", "readings of %s and %s %s are not possible", measure.Show(s.LowV, "V"), measure.Show(s.HighV, "V"), wordsOf(s.Place))
		}
		if s.LowV > s.HighV {
			return problem.Invalidf("spots", "the lowest reading comes first", "the lowest reading of %s %s is above the highest of %s", measure.Show(s.LowV, "V"), wordsOf(s.Place), measure.Show(s.HighV, "V"))
		}
		still = still || s.Place == journal.Still
		moved = moved || s.Place != journal.Still
	}
	if !still || !moved {
		return problem.Invalidf("spots", "note the readings with nothing moved, then move one place after the other", "there is nothing to compare")
	}
	return nil
}

// wiggleCautions are shown before the load goes on.
func wiggleCautions() []string {
	return []string{
		"the load gets hot enough to burn skin: never touch it, and take it off between places",
		"never let tools or bare ends touch both poles; wear eye protection and keep one hand free",
		"stop at once at heat, smell, smoke or swelling; an adult supervises students",
	}
}
