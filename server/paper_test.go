package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"packwright/internal/demo"
	"packwright/internal/fleet"
	"packwright/internal/journal"
)

// Labels that lead to another place than this server are printed with a warning.
func TestLabelAddress(t *testing.T) {
	f := fleet.New()
	entry := note(1, "x")
	entry.Kind, entry.Pack, entry.Body = journal.PackAdded, "M4K2TW", mustJSON(journal.Profile{Name: new("Pack 1"), CapacityAh: new(3.0)})
	if !f.Add(entry) {
		t.Fatal("no pack")
	}
	const own = "https://pit.local:8443"
	for _, c := range []struct{ typed, own, warning string }{
		{"", own, ""},
		{own, own, ""},
		{"HTTPS://PIT.local:8443/", own, ""},
		{"https://pit.local:443", "https://pit.local", ""},
		{"https://packs.our-school.example", "", ""},
		{"", "", "works on this computer only"},
		{"https://pit.local", own, "but phones reach this server at " + own},
		{"https://pit.local:9443", own, "lead to https://pit.local:9443"},
		{"https://packs.our-school.example", own, "check which of them lasts"},
		{"http://packs.our-school.example", "", "begins with http"},
		{"https://192.168.1.10:8443", own, "a name lasts longer"},
	} {
		var warned []string
		if err := (labelChoices{Size: "a4-3x8", Start: 1, Copies: 1, Level: "Q", BaseURL: c.typed}).print(io.Discard, f, c.own, func(text string) { warned = append(warned, text) }); err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(warned, "; "); (got == "") != (c.warning == "") || !strings.Contains(got, c.warning) {
			t.Errorf("%+v: warned %q", c, got)
		}
		warned = nil
		sheet := testsheetChoices{Pack: "M4K2TW", Paper: "A4", BaseURL: c.typed}
		if err := sheet.print(io.Discard, f, c.own, func(text string) { warned = append(warned, text) }); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c.warning, "phones reach") && !strings.Contains(strings.Join(warned, "; "), c.warning) {
			t.Errorf("test sheet, %+v: warned %q", c, warned)
		}
	}
}

// TestChecklistKeepsAside: of the demo season's packs the checklist has no row for the
// swollen one and the one that lost a cell, and says why beneath the others.
func TestChecklistKeepsAside(t *testing.T) {
	f := fleet.New()
	for _, e := range demo.Season() {
		f.Add(e)
	}
	packs, err := choosePacks(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	charged, aside := keepAside(f, packs)
	want := []string{"Do not charge: Rook (swollen).", "Charge only as its page says: Curlew (a cell is lost)."}
	if len(charged) != len(packs)-2 || !slices.Equal(aside, want) {
		t.Errorf("%d of %d have a row, beneath %q", len(charged), len(packs), aside)
	}
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing: install poppler-utils")
		}
		t.Skip("pdftotext is missing (poppler-utils): nothing was read back")
	}
	file := filepath.Join(t.TempDir(), "checklist.pdf")
	w, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := (checklistChoices{Matches: 1, Chargers: 1}).print(w, f, "", nil); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(pdftotext, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range want {
		if strings.Count(string(text), words) != 1 {
			t.Errorf("it does not say %q once:\n%s", words, text)
		}
	}
	if strings.Contains(string(text), "NPG9T1") || strings.Contains(string(text), "NPG 9T1") {
		t.Errorf("the swollen pack has a row:\n%s", text)
	}
}
