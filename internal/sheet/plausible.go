package sheet

import (
	"strings"

	"packwright/internal/cells"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// Resistances per cell beyond which a number is taken for something else, such as the
// load or another unit (own rule): handbooks have 3 to 10 mΩ, good large cells half of
// the lower one, and a cell of 200 mΩ runs nothing.
const (
	leastCellOhm = 0.001
	mostCellOhm  = 0.2
)

// oddOhm says what is odd about a pack's resistance, empty where nothing is.
func oddOhm(ohm float64, n int) string {
	if n <= 0 {
		n = cells.Usual
	}
	what := ""
	switch perCell := ohm / float64(n); {
	case perCell < leastCellOhm:
		what = "little"
	case perCell > mostCellOhm:
		what = "much"
	default:
		return ""
	}
	shown := measure.ShowRough(ohm, "Ω")
	if ohm < 0.1 {
		shown = measure.ShowRough(1000*ohm, "mΩ")
	}
	return shown + " is too " + what + " for " + Number(float64(n)) + " cells: is this the load, or another unit?"
}

// plausible refuses a row whose resistance no pack has, and one whose voltages, used
// or not, are the wrong way round: nobody knows what the resistance was made of.
func (l *looking) plausible(row *record, d *loadtest.Direct, n int) error {
	for _, ohm := range d.ResistanceOhm {
		if odd := oddOhm(ohm, n); odd != "" {
			return bad(Resistance, "choose “Load” for the column, another unit, or leave the row out", odd)
		}
	}
	loaded := fieldOf(LoadedVolts)
	for i := range l.plan.Columns {
		c := &l.plan.Columns[i]
		text := strings.TrimSpace(row.cell(i))
		if text == "" || c.Field != LoadedVolts && (c.Field != Skip || readHead(c.Name).strength(loaded) == 0) {
			continue
		}
		v, err := value(text, loaded, orElse(c.Unit, orElse(readHead(c.Name).unit, loaded.unit)), l.plan.Decimal)
		if err == nil && d.OpenV != nil && v >= *d.OpenV {
			return bad(LoadedVolts, "swap the two voltages in the table, or leave the row out",
				measure.Show(v, "V")+" on load is not below "+measure.Show(*d.OpenV, "V")+" without")
		}
	}
	return nil
}
