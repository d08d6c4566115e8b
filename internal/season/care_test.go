package season

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"packwright/internal/charging"
	"packwright/internal/demo"
	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/stock"
)

// Codes of the invented season.
const (
	curlew  = "4BW21M" // lost a cell
	rook    = "NPG9T1" // swollen
	bittern = "02ATPS" // a bad contact
)

// november is the invented season a week after its end.
func november() (s *Season, nowMS int64) {
	f := fleet.New()
	for _, e := range demo.Season() {
		f.Add(e)
	}
	return New(f), time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC).UnixMilli()
}

// after adds an entry of the lead's to the invented season.
func after(t *testing.T, s *Season, atMS int64, kind journal.Kind, pack, body string) {
	t.Helper()
	d := &diary{t: t, fleet: s.fleet, n: 1000 + s.fleet.Len()}
	d.write(float64(atMS-day0)/dayMS, kind, pack, body)
}

func rowOf(t *testing.T, s *Season, code string, nowMS int64) (BoardRow, Board) {
	t.Helper()
	b, err := s.Board(BoardRequest{NowMS: nowMS})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(b.Rows, func(r BoardRow) bool { return r.Code == code })
	if i < 0 {
		t.Fatalf("%s is not on the board", code)
	}
	return b.Rows[i], b
}

func titled(calendar, name string) bool { return strings.Contains(calendar, name+"\r\n") }

// Of a swollen pack nothing is asked, and nothing told that invites to use it.
func TestStopped(t *testing.T) {
	s, now := november()
	h, err := s.Health(rook, now)
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Report.Findings) < 2 || h.Report.NextTest != nil || len(h.Drive) > 0 || len(h.Trend.Missing) > 0 {
		t.Errorf("%d findings, next %v, %d answers of driving, missing %q", len(h.Report.Findings), h.Report.NextTest, len(h.Drive), h.Trend.Missing)
	}
	for _, f := range h.Report.Findings {
		if f.Action != stoppedAction || len(f.Evidence) == 0 {
			t.Errorf("%s: %s, evidence %q", f.Title, f.Action, f.Evidence)
		}
	}
	if c := h.Charging; len(c.Due) > 0 || c.Nothing != "swollen: do not charge or use it, so nothing is due" {
		t.Errorf("due %+v, %q", c.Due, c.Nothing)
	}
	row, b := rowOf(t, s, rook, now)
	if lost, _ := rowOf(t, s, curlew, now); lost.Lost != "a cell is lost" {
		t.Errorf("Curlew: %q", lost.Lost)
	}
	if row.First != "swollen: do not charge or use it" || !slices.Equal(row.Safety, []string{"swollen"}) || row.Drive != nil || len(row.Findings) == 0 {
		t.Errorf("on the board: %+v", row)
	}
	for _, f := range row.Findings {
		if f.Action != stoppedAction {
			t.Errorf("on the board: %s", f.Action)
		}
	}
	if slices.ContainsFunc(b.Plan.Test, func(l stock.ToTest) bool { return l.Code == rook || l.Code == curlew }) {
		t.Errorf("to be tested: %+v", b.Plan.Test)
	}
	calendar := s.Calendar(now)
	if titled(calendar, "Rook") || titled(calendar, "Curlew") || !titled(calendar, "Teal") {
		t.Errorf("in the calendar: %s", calendar)
	}
	text(t, &h)

	// A sound one has them, so it is the finding that silenced them.
	pack, err := s.Pack(rook, now)
	if err != nil {
		t.Fatal(err)
	}
	after(t, s, now, journal.FindingClosed, rook, fmt.Sprintf(`{"entry":%q,"text":"seen to"}`, pack.Findings[0].Entry))
	h, err = s.Health(rook, now+1)
	if err != nil || len(h.Charging.Due) == 0 || len(h.Drive) == 0 || h.Report.NextTest == nil || h.Report.Findings[0].Action == stoppedAction {
		t.Errorf("closed: %+v %v", h.Charging, err)
	}
}

// Charges of a pack that is not to be charged are not explained by what to do next.
func TestStoppedCharges(t *testing.T) {
	s, now := november()
	after(t, s, now, journal.Charged, rook, `{"started_at":"2026-08-01T10:00:00Z","ended_at":"2026-08-01T12:00:00Z","purpose":"use","ended":"hot","put_in_ah":0.5,"missing_ah":2.5}`)
	h, err := s.Health(rook, now+1)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(h.Charging.Checks, func(c charging.Check) bool { return c.Verdict == charging.TooLittle }) {
		t.Error("no charge was short")
	}
	for _, words := range []string{"charge on", "wake it"} {
		if strings.Contains(text(t, &h), words) {
			t.Errorf("it says %q: %s", words, text(t, &h.Charging))
		}
	}
}

// A pack without a cell is charged for its diagnosis alone, and its tests since do
// not call it fit.
func TestWithoutACell(t *testing.T) {
	s, now := november()
	h, err := s.Health(curlew, now)
	if err != nil {
		t.Fatal(err)
	}
	if c := h.Charging; len(c.Due) > 0 || c.Nothing != "a cell is lost: charge it only as its page says, so nothing is due" {
		t.Errorf("due %+v, %q", c.Due, c.Nothing)
	}
	if f := h.Report.Findings[0]; f.Title != "A cell is lost" || !strings.Contains(f.Action, "charge it once more") || h.Report.NextTest == nil {
		t.Errorf("%s: %s", f.Title, f.Action)
	}
	p, err := s.Pack(curlew, now)
	if err != nil {
		t.Fatal(err)
	}
	lost := 0
	for _, test := range p.Tests {
		since := test.AtMS >= h.Report.Findings[0].SinceMS
		if (test.Alone == "a cell is lost") != since {
			t.Errorf("the test of %s says %q", s.fleet.Clock().Words(test.AtMS), test.Alone)
		}
		one, err := s.Test(test.Entry, now)
		if err != nil || one.Alone != test.Alone {
			t.Errorf("its own page says %q, %v", one.Alone, err)
		}
		if since {
			lost++
		}
	}
	if lost < 4 || lost == len(p.Tests) {
		t.Errorf("%d of %d tests without a cell", lost, len(p.Tests))
	}
}

// What to do with a pack at its end depends on what is wrong with it.
func TestDisposal(t *testing.T) {
	s, now := november()
	for code, want := range map[string]string{rook: unsafePack, curlew: unsafePack, bittern: wornPack} {
		if p, err := s.Pack(code, now); err != nil || p.Disposal != want {
			t.Errorf("%s: %s (%v)", code, p.Disposal, err)
		}
	}
}

// After a repair the pack is tested before anything else is said of it; the test
// settles it.
func TestMended(t *testing.T) {
	s, now := november()
	before, _ := rowOf(t, s, bittern, now)
	if before.Outcome != judge.Practice || before.FitThen == nil || before.First != "" {
		t.Fatalf("before: %+v", before)
	}
	after(t, s, now, journal.Repaired, bittern, `{"part":"connector","text":"crimped anew"}`)
	const words = "mended on 29 Nov 2026, not tested since"
	row, b := rowOf(t, s, bittern, now+1000)
	if row.Outcome != judge.Retest || row.FitThen != nil || row.Drive != nil || row.First != words+": test it now" {
		t.Errorf("on the board: %+v", row)
	}
	if first := b.Plan.Test[0]; first.Code != bittern || !slices.Equal(first.Why, []string{words}) {
		t.Errorf("to be tested first: %+v", first)
	}
	if !slices.Contains(b.Plan.Rules, "Mended and not tested since, so not counted on: Bittern.") {
		t.Errorf("%q", b.Plan.Rules)
	}
	p, err := s.Pack(bittern, now+1000)
	if err != nil || p.Decision.Outcome != judge.Retest || p.Decision.Reason != words+": test it now" || p.Decision.ProbabilityWithinLimit != nil || p.Attention != p.Decision.Reason {
		t.Errorf("its page: %+v, %s, %v", p.Decision, p.Attention, err)
	}
	h, err := s.Health(bittern, now+1000)
	if err != nil || len(h.Charging.Due) == 0 || h.Report.NextTest == nil || h.Report.NextTest.Kind != diagnose.DoLoadTest {
		t.Fatalf("%+v %v", h.Report.NextTest, err)
	}
	if due := h.Charging.Due[0]; due.Kind != charging.DueTest || !due.Over || due.DayMS != now+1000 || due.Text != words {
		t.Errorf("due first: %+v", due)
	}
	if n := len(slices.DeleteFunc(h.Charging.Due, func(d charging.Due) bool { return d.Kind != charging.DueTest })); n != 1 {
		t.Errorf("%d tests are due", n)
	}

	after(t, s, now+3_600_000, journal.LoadTest, bittern, testBody(0.07, ""))
	row, b = rowOf(t, s, bittern, now+7_200_000)
	if row.Outcome != judge.Competition || row.First != "" || row.FitThen == nil || row.Drive == nil || b.Plan.Test[0].Code == bittern {
		t.Errorf("tested: %+v", row)
	}
}

// A repair that touches no contact and no cell, one that was voided, and one of a
// pack that was never tested ask for no proof.
func TestNothingToProve(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	d.add(0, packB, "Heron 2")
	d.test(1, packA, 0.08)
	d.write(2, journal.Repaired, packA, `{"part":"other","text":"new sleeve"}`)
	repair := d.write(2.1, journal.Repaired, packA, `{"part":"fuse","text":"new fuse"}`)
	d.write(2, journal.Repaired, packB, `{"part":"lead","text":"new lead"}`)
	s := New(d.fleet)
	care := func(code string, day float64) int64 { c := s.Care(code, int64(day0+day*dayMS)); return c.MendedMS }
	if care(packA, 3) == 0 || care(packB, 3) != 0 {
		t.Errorf("mended: %d and %d", care(packA, 3), care(packB, 3))
	}
	d.write(4, journal.Voided, packA, fmt.Sprintf(`{"entry":%q,"reason":"other pack"}`, repair.ID))
	if care(packA, 5) != 0 {
		t.Error("a voided repair counts")
	}
}

// A repair takes back that a pack is set aside for its resistance, and never what a
// safety finding says.
func TestMendedWhenSetAside(t *testing.T) {
	d := newDiary(t)
	d.add(0, packA, "Heron 1")
	d.test(1, packA, 0.5)
	outcome := func(day float64) judge.Outcome {
		p, err := New(d.fleet).Pack(packA, int64(day0+day*dayMS))
		if err != nil || p.Outcome != p.Decision.Outcome {
			t.Fatalf("%s in the list, %s on its page, %v", p.Outcome, p.Decision.Outcome, err)
		}
		return p.Outcome
	}
	if o := outcome(1.5); o != judge.SetAside {
		t.Fatalf("0.5 Ω: %s", o)
	}
	d.write(2, journal.Repaired, packA, `{"part":"lead","text":"new lead"}`)
	if o := outcome(3); o != judge.Retest {
		t.Errorf("mended: %s", o)
	}
	d.write(4, journal.Inspected, packA, `{"finding":"swollen"}`)
	if o := outcome(5); o != judge.SetAside {
		t.Errorf("swollen: %s", o)
	}
}

// New cells are no lost cell: the test after the repair tells.
func TestCellsReplaced(t *testing.T) {
	s, now := november()
	after(t, s, now, journal.Repaired, curlew, `{"part":"cells","text":"a new stick of cells"}`)
	c := s.Care(curlew, now+1000)
	if c.Lost != nil || c.MendedMS == 0 {
		t.Errorf("%+v", c)
	}
}

// The first list says what bears on the use of a pack.
func TestHints(t *testing.T) {
	s, now := november()
	hints := map[string]string{}
	for _, row := range s.Overview(now).Packs {
		hints[row.Code] = row.Attention
	}
	if hints[bittern] != "look at the lead" || !strings.Contains(hints["85RBQE"], "holds less than it should") || hints["PAZ759"] != "" {
		t.Errorf("%q", hints)
	}
}
