package season

import (
	"strings"
	"testing"
	"time"

	"packwright/internal/demo"
	"packwright/internal/fleet"
	"packwright/internal/judge"
)

// The pack of the invented season that lost a cell is below the limit, and yet not
// called fit: neither in the overview, nor on its own page, nor on the board.
func TestLostCellIsLookedAtFirst(t *testing.T) {
	f := fleet.New()
	for _, e := range demo.Season() {
		f.Add(e)
	}
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC).UnixMilli()
	s := New(f)
	plain, o := f.Overview(now), s.Overview(now)
	if plain.Counts.Competition != o.Counts.Competition+1 || plain.Counts.Retest+1 != o.Counts.Retest {
		t.Errorf("counts %+v, without the doubt %+v", o.Counts, plain.Counts)
	}
	b, err := s.Board(BoardRequest{NowMS: now})
	rests := 0
	for _, r := range b.Rows {
		if r.Stand == Reference && r.Outcome == judge.Competition {
			rests++
		}
	}
	if err != nil || rests != 1 || b.Plan.Now+rests != o.Counts.Competition {
		t.Errorf("the board counts %d fit and %d at rest, the overview %d (%v)", b.Plan.Now, rests, o.Counts.Competition, err)
	}
	for _, row := range s.packRows(now) {
		if row.Name == "Curlew" && row.Outcome != string(judge.Retest) {
			t.Errorf("the table of packs calls Curlew %s", row.Outcome)
		}
	}
	for _, row := range o.Packs {
		if row.Name != "Curlew" {
			if strings.Contains(row.Attention, "cell") {
				t.Errorf("%s: %s", row.Name, row.Attention)
			}
			continue
		}
		p, err := s.Pack(row.Code, now)
		if err != nil || row.Outcome != judge.Retest || row.Attention != "look first: a cell is lost" || !strings.Contains(row.Reason, "a cell is lost") {
			t.Errorf("Curlew: %s, %s (%v)", row.Outcome, row.Attention, err)
		}
		if p.Outcome != judge.Retest || p.Decision.Outcome != judge.Retest || p.Decision.ProbabilityWithinLimit != nil || len(p.Decision.Next) != 1 || !strings.Contains(p.Decision.Next[0], "read the open voltage") {
			t.Errorf("Curlew's page: %+v", p.Decision)
		}
		if own := p.Tests[0].Decision.Outcome; own != judge.Competition {
			t.Errorf("the decision on the test itself became %s", own)
		}
	}
}
