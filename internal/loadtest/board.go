package loadtest

import (
	"strconv"
	"strings"

	"packwright/internal/measure"
)

// board writes a working as on a blackboard. What is written is a script, a
// line per step: label | formula | numbers | result, with {name} for a value
// set before. A line that names a value which was not set is left out; so one
// script serves tests with and without repeats, heating or a reading second.
type board struct {
	steps  []Step
	values map[string]string
}

// newBoard is an empty board.
func newBoard() *board { return &board{values: map[string]string{}} }

// set gives a name its text. It is called eighty times, and a phone downloads
// every copy that is inlined.
//
//go:noinline
func (b *board) set(name, text string) { b.values[name] = text }

// put sets a value with its unit.
//
//go:noinline
func (b *board) put(name string, value float64, unit string) {
	b.set(name, measure.Show(value, unit))
}

// small sets an uncertainty or a sensitivity, which needs fewer digits.
func (b *board) small(name string, value float64, unit string) {
	b.set(name, small(value, unit))
}

// readings sets a list of readings from a display of that resolution: {name}
// is the mean; {name.one} is there for a single reading only, and {name.list}
// for several.
func (b *board) readings(name, unit string, resolution float64, list []float64, mean float64) {
	b.put(name, mean, unit)
	if len(list) == 1 {
		b.set(name, measure.ShowReading(mean, resolution, unit))
		b.set(name+".one", b.values[name])
		return
	}
	const most = 6
	var parts []string
	for _, v := range list[:min(most, len(list))] {
		parts = append(parts, measure.ShowReading(v, resolution, ""))
	}
	if len(list) > most {
		parts = append(parts, "…")
	}
	b.set(name+".list", strings.Join(parts, " + "))
	b.set("n", strconv.Itoa(len(list)))
}

// write adds the steps of a script.
func (b *board) write(script string) {
	for row := range strings.SplitSeq(strings.TrimSpace(script), "\n") {
		if row, ok := b.fill(row); ok {
			b.step(row)
		}
	}
}

// step adds one filled row.
func (b *board) step(row string) {
	label, rest, _ := strings.Cut(row, " | ")
	formula, rest, _ := strings.Cut(rest, " | ")
	numbers, result, _ := strings.Cut(rest, " | ")
	b.steps = append(b.steps, Step{Label: label, Formula: formula, Numbers: numbers, Result: result})
}

// fill puts values in place of their names; ok is false where one is not set.
func (b *board) fill(row string) (filled string, ok bool) {
	for {
		before, rest, found := strings.Cut(row, "{")
		filled += before
		if !found {
			return filled, true
		}
		name, after, _ := strings.Cut(rest, "}")
		value, ok := b.values[name]
		if !ok {
			return "", false
		}
		filled, row = filled+value, after
	}
}

// small writes an uncertainty or a sensitivity.
func small(v float64, unit string) string { return measure.ShowDigits(v, 4, unit) }
