package logged

import "slices"

// IssueKind names what is odd about a row.
type IssueKind string

// The kinds. Rows of the first group are set aside, those of the second are used.
const (
	Unreadable IssueKind = "unreadable" // a cell that is no number or time
	ShortRow   IssueKind = "short-row"  // fewer columns than needed
	LongLine   IssueKind = "long-line"  // no line of a log is so long
	Impossible IssueKind = "impossible" // a value that no such pack has, perhaps in another unit
	TimeSlip   IssueKind = "time-slip"  // one row whose time does not fit between its neighbours

	ClockChange IssueKind = "clock-change" // times go on from another hour; they were moved
	EqualTimes  IssueKind = "equal-times"  // as the row before: the clock's steps are coarser than the rows
	Gap         IssueKind = "gap"          // rows are missing
	Spike       IssueKind = "spike"        // one row far off both neighbours
)

// issueInfo is what is said about a kind; the order is that of a report.
var issueInfo = [...]struct {
	kind       IssueKind
	setAside   bool
	text, hint string
}{
	{Unreadable, true, "rows with a cell that is not a number", "look at the lines named; check the decimal sign and the separator"},
	{ShortRow, true, "rows with too few columns", "the file may be cut off, or another separator is used in them"},
	{LongLine, true, "lines too long for a row of readings", "check that this is the logger's file"},
	{Impossible, true, "rows with a value that no such pack has", "check the unit, such as mV for V, and the number of cells"},
	{TimeSlip, true, "rows whose time does not fit between its neighbours", "they are left out; the rows around them count"},
	{ClockChange, false, "changes of the clock", "the times after it were moved so that they go on"},
	{EqualTimes, false, "rows with the time of the row before", "let the logger write times with decimals: charge and resistance get better"},
	{Gap, false, "gaps between rows", "charge across a gap is guessed, and its uncertainty says so"},
	{Spike, false, "rows far off both neighbours", "they count; check the plug and the logger's leads if there are many"},
}

// Issue is one odd row.
type Issue struct {
	Line int    `json:"line"` // in the file, from 1; 0 where there is no file
	Text string `json:"text"`
}

// IssueCount is how often a kind occurs, with the first few.
type IssueCount struct {
	Kind     IssueKind `json:"kind"`
	Rows     int       `json:"rows"`
	SetAside bool      `json:"set_aside"` // the rows are not used
	Text     string    `json:"text"`
	Hint     string    `json:"hint"`
	First    []Issue   `json:"first"`
}

// mostTold is how many of a kind are told one by one.
const mostTold = 8

// issues collects them.
type issues struct{ counts [len(issueInfo)]IssueCount }

// add counts one; text is called only where it is among the first.
func (s *issues) add(kind IssueKind, line int, text func() string) {
	for i := range issueInfo {
		if issueInfo[i].kind == kind {
			c := &s.counts[i]
			c.Rows++
			if len(c.First) < mostTold {
				c.First = append(c.First, Issue{line, text()})
			}
			return
		}
	}
}

// setAside is how many rows are not used.
func (s *issues) setAside() int {
	n := 0
	for i := range issueInfo {
		if issueInfo[i].setAside {
			n += s.counts[i].Rows
		}
	}
	return n
}

// list is what was found, never nil.
func (s *issues) list() []IssueCount {
	out := []IssueCount{}
	for i, info := range issueInfo {
		if c := s.counts[i]; c.Rows > 0 {
			c.Kind, c.SetAside, c.Text, c.Hint, c.First = info.kind, info.setAside, info.text, info.hint, slices.Clone(c.First)
			out = append(out, c)
		}
	}
	return out
}
