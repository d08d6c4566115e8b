package main

import (
	"bytes"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"packwright/internal/demo"
	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/season"
)

// readPDF gives the text of a PDF as pdftotext reads it, page by page.
func readPDF(t *testing.T, pdf []byte) []string {
	t.Helper()
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing: install poppler-utils")
		}
		t.Skip("pdftotext is missing (poppler-utils): nothing was read back")
	}
	file := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(pdftotext, "-raw", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
}

// demoReport pushes the invented season into a server and asks for a report.
func demoReport(t *testing.T, path string) []string {
	t.Helper()
	s, _ := openTest(t)
	for batch := range slices.Chunk(demo.Season(), maxPushEntries) {
		pushed(t, s, push(batch...))
	}
	w := send(s, "GET", path, nil)
	if w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	for _, warning := range w.Header()["Packwright-Warning"] {
		t.Errorf("printed otherwise than asked: %s", warning)
	}
	return readPDF(t, w.Body.Bytes())
}

func demoFleet() *fleet.Fleet {
	f := fleet.New()
	for _, e := range demo.Season() {
		f.Add(e)
	}
	return f
}

const reportDay = "2026-11-25"

// TestFleetReportOfDemo: the one page answers what a mentor asks, with the packs
// for which the invented season's story was planted.
func TestFleetReportOfDemo(t *testing.T) {
	pages := demoReport(t, "/api/v1/fleetreport.pdf?date="+reportDay)
	if len(pages) != 1 {
		t.Fatalf("%d pages", len(pages))
	}
	board, err := season.BoardOf(demoFleet(), season.BoardRequest{NowMS: mustDay(t)})
	if err != nil {
		t.Fatal(err)
	}
	if len(board.Rows) < 10 {
		t.Fatalf("only %d packs on the board", len(board.Rows))
	}
	for _, r := range board.Rows {
		if !strings.Contains(pages[0], r.Name) {
			t.Errorf("%s is not on the page", r.Name)
		}
	}
	after := func(question string) string {
		_, rest, found := strings.Cut(pages[0], question+"\n")
		if !found {
			t.Fatalf("the page does not ask %q:\n%s", question, pages[0])
		}
		answer, _, _ := strings.Cut(rest, "\n")
		return answer
	}
	with := func(cause diagnose.Cause) string {
		return namesOf(rowsWith(&board, func(r *season.BoardRow) bool {
			return slices.ContainsFunc(r.Findings, func(n diagnose.Finding) bool { return n.Cause == cause && !n.Past })
		}))
	}
	lost, contact := with(diagnose.LostCell), with(diagnose.ContactOrLead)
	if lost == "none" || contact == "none" {
		t.Fatalf("the season has no lost cell (%s) or no bad contact (%s)", lost, contact)
	}
	if got := after("Which pack lost a cell?"); got != lost {
		t.Errorf("lost a cell: %s, want %s", got, lost)
	}
	joined := strings.Join(strings.Fields(pages[0]), " ")
	for _, words := range []string{"Rook, swollen: do not charge or use it; set aside: Rook", "swollen: do not charge or use it; Cells are ageing", "retest a cell is lost 0.0716"} {
		if !strings.Contains(joined, words) {
			t.Errorf("the page does not say %q:\n%s", words, joined)
		}
	}
	if _, rest, _ := strings.Cut(joined, "NPG 9T1"); strings.Contains(strings.SplitN(rest, "Avocet", 2)[0], " V ") {
		t.Errorf("the swollen pack has volts to spare: %s", joined)
	}
	if got := after("Which lead or contact is to be crimped anew?"); got != contact {
		t.Errorf("to crimp: %s, want %s", got, contact)
	}
	flat := strings.Join(strings.Fields(pages[0]), " ")
	var going, next []string
	for _, p := range board.Take {
		going = append(going, strings.TrimSuffix(p.Name+" ("+p.But+")", " ()"))
	}
	for _, p := range board.Plan.Test[:board.Plan.Shown] {
		next = append(next, p.Name)
	}
	if len(going) != board.Plan.Now || len(next) != 5 {
		t.Errorf("%q go, and planning counts %d; %q are to be tested next", going, board.Plan.Now, next)
	}
	for _, words := range []string{
		"Which packs go to the next event? " + strings.Join(going, ", ") + " ", "Which packs to test next? " + strings.Join(next, ", ") + " ",
		"to be tested first: Avocet, Coot; reference, rests: Kestrel.", "Test Coot first: if it is fit, it is one fewer.",
	} {
		if !strings.Contains(flat, words) {
			t.Errorf("the page does not say %q:\n%s", words, flat)
		}
	}
	for _, r := range board.Rows {
		_, stay, _ := strings.Cut(flat, "practice only? ")
		stay, _, _ = strings.Cut(stay, "Which packs")
		goes := slices.ContainsFunc(board.Take, func(p season.Taken) bool { return p.Code == r.Code })
		if stays := strings.Contains(stay, r.Name); stays == goes {
			t.Errorf("%s goes: %t, stays: %t", r.Name, goes, stays)
		}
		for _, n := range r.Findings {
			if n.Cause == diagnose.ContactOrLead && !strings.Contains(flat, sentence(n.Action)) {
				t.Errorf("what to do about %s is not whole: %s", r.Name, n.Action)
			}
		}
	}
	if strings.Contains(flat, "…") {
		t.Errorf("something is cut:\n%s", flat)
	}
	if got := after("How many to buy, and by when?"); !regexp.MustCompile(`^\d+ packs?, order by \d\d? [A-Z][a-z]{2} \d{4}, \d+\.\d\d `).MatchString(got) {
		t.Errorf("to buy: %s", got)
	}
	for _, words := range []string{"where local rules say", "How it was worked out", "set aside, whatever it measures"} {
		if !strings.Contains(strings.Join(strings.Fields(pages[0]), " "), words) {
			t.Errorf("the page does not say %q", words)
		}
	}
}

func TestPackReportOfDemo(t *testing.T) {
	pages := demoReport(t, "/api/v1/packreport.pdf?date="+reportDay)
	f := demoFleet()
	s := season.New(f)
	packs, err := choosePacks(f, nil)
	if err != nil || len(packs) != len(pages) {
		t.Fatalf("%d pages for %d packs: %v", len(pages), len(packs), err)
	}
	for i, p := range packs {
		h, err := s.Health(p.Code, mustDay(t))
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(pages[i]), " ")
		if strings.Contains(text, "…") {
			t.Errorf("something is cut on the page of %s:\n%s", p.Name, pages[i])
		}
		want := []string{p.Name, p.Code[:3] + " " + p.Code[3:], "whatever it measures"}
		if len(h.Points)+len(h.Report.Findings) > 0 {
			want = append(want, "What its history points to")
		}
		for k, n := range h.Report.Findings {
			if k < 3 {
				want = append(want, n.Title)
			}
			if k < 3 && !n.Past {
				want = append(want, n.Action)
			}
		}
		if len(h.Points) > 0 {
			want = append(want, "limit 0.1 Ω", "How the latest was worked out", "R ± U = ")
		}
		for _, words := range want {
			if !strings.Contains(text, strings.Join(strings.Fields(words), " ")) {
				t.Errorf("the page of %s does not say %q", p.Name, words)
			}
		}
	}
}

// In the evening west of Greenwich, and in the morning far east of it, every date on a
// page is that of the place: of the table, of sentences, of the marks and of printing.
func TestReportDaysOfThePlace(t *testing.T) {
	for name, hour := range map[string]int{"America/Los_Angeles": 20, "Pacific/Auckland": 8} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		f := fleet.New()
		write := func(at time.Time, kind journal.Kind, pack string, body any) {
			e := note(int(at.Unix()-1_790_000_000), "x")
			e.ID, e.HLC = journal.NewID(at.UnixMilli(), [10]byte{}), journal.Stamp{MS: at.UnixMilli()}.String()
			e.Kind, e.Pack, e.Body = kind, pack, mustJSON(body)
			if err := e.Check(); err != nil {
				t.Fatal(err)
			}
			f.Add(e)
		}
		tested := time.Date(2026, 11, 20, hour, 0, 0, 0, zone)
		now := time.Date(2026, 11, 22, hour, 0, 0, 0, zone)
		write(tested.Add(-time.Hour), journal.PackAdded, "M4K2TW", journal.Profile{Name: new("Rook"), CapacityAh: new(3.0), InService: new("2026-09-01")})
		write(tested.Add(-time.Minute), journal.TeamChanged, "", journal.Team{EventName: new("Valley round"), EventDate: new("2026-11-22"), WantedPacks: new(3), DeliveryDays: new(1.0)})
		write(tested, journal.LoadTest, "M4K2TW", map[string]any{
			"method": "known-load", "open_v": []float64{12.84}, "loaded_v": []float64{12.71}, "load_ohm": 4.7, "load_uncertainty_ohm": 0.05,
			"meter": map[string]any{"reading_pct": 0.5, "counts": 2, "resolution_v": 0.01}, "read_after_s": 5, "charge": "full", "rested_min": 5,
		})
		for _, c := range []struct {
			choices printer
			want    []string
			never   string
		}{
			{&packreportChoices{clock: clock{now}}, []string{"22 Nov 2026 Rook", "since 1 Sep 2026", "1 20 Nov 2026 Tested when", "20 Nov 2026: it had rested", "by 20 Nov 2026 0.048 Ω", "worked out (20 Nov 2026)"},
				`(19|21|23) Nov 2026|\d{4}-\d\d`},
			{&fleetreportChoices{clock: clock{now}}, []string{"22 Nov 2026 Packs for Valley round, 22 Nov 2026", "on 22 Nov 2026 about", "3 packs, too late to order: ordered today they are ready about 23 Nov 2026, with 1 day for delivery", "ordered by 21 Nov 2026", "ready about 23 Nov 2026"},
				`(19|20|24) Nov 2026|\d{4}-\d\d`},
		} {
			var pdf bytes.Buffer
			if err := c.choices.print(&pdf, f, "", func(string) {}); err != nil {
				t.Fatal(err)
			}
			text := strings.Join(strings.Fields(strings.Join(readPDF(t, pdf.Bytes()), " ")), " ")
			for _, words := range c.want {
				if !strings.Contains(text, words) {
					t.Errorf("%s: %q is not in\n%s", name, words, text)
				}
			}
			if found := regexp.MustCompile(c.never).FindString(text); found != "" {
				t.Errorf("%s: %s in\n%s", name, found, text)
			}
		}
	}
}

// Of a pack without tests, without a name and with text that no font has, there
// is a page all the same.
func TestReportOfLittle(t *testing.T) {
	f := fleet.New()
	var pdf bytes.Buffer
	if err := (&fleetreportChoices{Date: reportDay}).print(&pdf, f, "", nil); err == nil {
		t.Error("a report of no pack")
	}
	entry := note(1, "x")
	entry.Kind, entry.Pack, entry.Body = journal.PackAdded, "M4K2TW", mustJSON(journal.Profile{Name: new("電池 😀"), CapacityAh: new(3.0)})
	if !f.Add(entry) {
		t.Fatal("no pack")
	}
	var warned []string
	warn := func(text string) { warned = append(warned, text) }
	if err := (&packreportChoices{Date: reportDay}).print(&pdf, f, "", warn); err != nil {
		t.Fatal(err)
	}
	if pages := readPDF(t, pdf.Bytes()); len(pages) != 1 || !strings.Contains(pages[0], "no test yet") || len(warned) == 0 {
		t.Errorf("%q, warned %q", pages, warned)
	}
	pdf.Reset()
	if err := (&fleetreportChoices{Date: reportDay}).print(&pdf, f, "", warn); err != nil {
		t.Fatal(err)
	}
}

func mustDay(t *testing.T) int64 {
	t.Helper()
	day, err := readDay("date", reportDay, time.Local)
	if err != nil {
		t.Fatal(err)
	}
	return day.UnixMilli()
}
