package loadtest

import (
	"strings"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Check says whether the meter's accuracy can be used.
func (m Meter) Check() error {
	if err := checkRange("meter.reading_pct", &m.ReadingPct, 0, 100); err != nil {
		return err
	}
	if err := checkRange("meter.counts", &m.Counts, 0, 1e6); err != nil {
		return err
	}
	return checkPositive("meter.resolution_v", m.ResolutionV)
}

// ParseMeter reads an accuracy as meters' manuals print it, percent of reading
// plus counts of the last digit ("0.5%+2", "±(0.5 % + 2)"), for a display of
// resolutionV volt per count. Errors are *problem.Error.
func ParseMeter(text string, resolutionV float64) (Meter, error) {
	refuse := func() (Meter, error) {
		return Meter{}, problem.Invalidf("meter", "write it like 0.5%+2: percent of reading plus last-digit counts",
			"%q is not an accuracy", text)
	}
	bare := strings.Map(func(r rune) rune {
		if strings.ContainsRune("±() \u00a0", r) {
			return -1
		}
		return r
	}, strings.TrimPrefix(strings.ToLower(text), "+/-"))
	for _, word := range []string{"digits", "digit", "dgts", "dgt", "counts", "count"} {
		bare = strings.TrimSuffix(bare, word)
	}
	pct, counts, found := strings.Cut(bare, "%")
	if !found {
		return refuse()
	}
	p, err := measure.Parse(pct, measure.Percent)
	if err != nil {
		return refuse()
	}
	m := Meter{ReadingPct: p.Value, ResolutionV: resolutionV}
	if counts != "" {
		number, found := strings.CutPrefix(counts, "+")
		c, err := measure.Parse(number, measure.Percent) // counts may be broken, as in +0.5
		if !found || err != nil || strings.Contains(number, "%") {
			return refuse()
		}
		m.Counts = c.Value
	}
	if err := m.Check(); err != nil {
		return Meter{}, err
	}
	return m, nil
}

// String writes the accuracy as ParseMeter reads it.
func (m Meter) String() string {
	return measure.Show(m.ReadingPct, "") + "%+" + measure.Show(m.Counts, "")
}

// leastCounts is what any display rounds away: half of its last digit
// (JCGM 100 F.2.2.1).
const leastCounts = 0.5

// display is the uncertainty that the last digits leave in each reading: the
// counts of the accuracy, but never less than leastCounts. It is not divided
// by the number of repeats: what the counts stand for (offset, non-linearity,
// rounding) is the same each time the same voltage is read, and does not
// average out.
func display(counts, resolution float64) measure.Estimate {
	return measure.Rectangular(0, max(counts, leastCounts)*resolution)
}
