package fleet

import (
	"slices"
	"strings"

	"packwright/internal/journal"
)

// findings lists what inspections found, newest first.
func (f *Fleet) findings(p *pack, nowMS int64) []OpenFinding {
	list := []OpenFinding{}
	for _, it := range slices.Backward(p.items) {
		if it.kind != journal.Inspected {
			continue
		}
		b, ok := it.content().(*journal.Inspection)
		if !ok {
			continue
		}
		o := OpenFinding{Stamp: f.stamp(it, nowMS), Finding: b.Finding, Text: b.Text, Safety: isSafety(b.Finding)}
		if by := f.closedBy[it.ID]; by != nil {
			c, _ := by.content().(*journal.FindingClose)
			o.Closed, o.ClosedBy, o.ClosedText = true, by.ID, c.Text
		}
		list = append(list, o)
	}
	return list
}

// isSafety says whether a finding sets a pack aside whatever its resistance.
func isSafety(finding journal.Finding) bool {
	return finding != journal.LooseContact && finding != journal.Sound
}

// open says whether a finding still stands.
func (o OpenFinding) open() bool {
	return !o.Voided && !o.Closed && o.Finding != journal.Sound
}

// words is a finding in plain words.
func (o OpenFinding) words() string {
	if o.Finding == journal.OtherSafety {
		return strings.TrimSpace(o.Text)
	}
	return strings.ReplaceAll(string(o.Finding), "-", " ")
}

// openSafety gives the open safety findings in words, oldest first, each once.
func openSafety(findings []OpenFinding) []string {
	var list []string
	for _, o := range slices.Backward(findings) {
		if o.open() && o.Safety && !slices.Contains(list, o.words()) {
			list = append(list, o.words())
		}
	}
	return list
}

// remarks turns note entries into views, newest first.
func (f *Fleet) remarks(items []*item, nowMS int64) []Remark {
	list := []Remark{}
	for _, it := range slices.Backward(items) {
		if it.kind != journal.Noted {
			continue
		}
		if n, ok := it.content().(*journal.Note); ok {
			list = append(list, Remark{Stamp: f.stamp(it, nowMS), Text: n.Text})
		}
	}
	return list
}
