package demo

import (
	"slices"
	"strings"
	"testing"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/season"
)

// told is the club's season as its phones have it.
func told(t *testing.T) (*season.Season, map[string]string, []Truth) {
	t.Helper()
	entries, truth := Story()
	f := fleet.New()
	for _, e := range entries {
		f.Add(e)
	}
	names := map[string]string{}
	for _, row := range f.Overview(today).Packs {
		names[row.Code] = row.Name
	}
	return season.New(f), names, truth
}

// Every planted cause is found, and no pack is accused of another.
func TestStoryIsDiagnosed(t *testing.T) {
	s, names, truth := told(t)
	reports := map[string]diagnose.Report{}
	for code := range names {
		h, err := s.Health(code, today)
		if err != nil {
			t.Fatal(err)
		}
		reports[code] = h.Report
	}
	for _, tr := range truth {
		found := slices.ContainsFunc(reports[tr.Pack].Findings, func(f diagnose.Finding) bool {
			return f.Cause == tr.Cause && f.Confidence != diagnose.Possible
		})
		if single := tr.Pack == "" || tr.Cause == diagnose.NotReady; single && !meets(reports, tr) || !single && !found {
			t.Errorf("missed: %s of %s", tr.Cause, names[tr.Pack])
		}
	}
	for code, r := range reports {
		for _, f := range r.Findings {
			if !slices.ContainsFunc(truth, func(tr Truth) bool { return tr.Cause == f.Cause && (tr.Pack == code || tr.Pack == "") }) {
				t.Errorf("%s is accused: %s, %q", names[code], f.Title, f.Evidence)
			}
		}
	}
}

// What a mentor asks, looking at the board for two minutes.
func TestTheBoardAnswers(t *testing.T) {
	s, names, _ := told(t)
	b, err := s.Board(season.BoardRequest{NowMS: today})
	if err != nil {
		t.Fatal(err)
	}
	open := func(cause diagnose.Cause) (list []string) {
		for _, row := range b.Rows {
			if slices.ContainsFunc(row.Findings, func(f diagnose.Finding) bool { return f.Cause == cause && f.Confidence != diagnose.Possible }) {
				list = append(list, row.Name)
			}
		}
		slices.Sort(list)
		return list
	}
	for cause, want := range map[diagnose.Cause]string{
		diagnose.ContactOrLead: "Bittern", diagnose.LostCell: "Curlew", diagnose.AgeingCells: "Avocet Plover Rook",
		diagnose.SelfDischarge: "Rook", diagnose.CapacityFade: "Plover Rook", diagnose.NotReady: "", diagnose.SetUp: "",
	} {
		if got := strings.Join(open(cause), " "); got != want {
			t.Errorf("%s: %s, want %s", cause, got, want)
		}
	}
	// Which packs go to the next event: four, without the one that lost a cell and the
	// reference pack, which rests.
	if b.Plan.Now != 4 {
		t.Errorf("%d packs are fit", b.Plan.Now)
	}
	// How many to buy by spring: eight are wanted on 6 March, and one of the four or
	// of those bought may not be fit.
	event := time.Date(2027, 3, 6, 0, 0, 0, 0, time.UTC).UnixMilli()
	if buy := b.Plan.Buy; buy.Packs < 3 || buy.Packs > 6 || buy.ByMS == nil || *buy.ByMS <= today || *buy.ByMS >= event || buy.Cost == nil || *buy.Cost != 52*float64(buy.Packs) {
		t.Errorf("%+v", buy)
	}
	if len(b.Days) != 1 || time.UnixMilli(b.Days[0].AtMS).UTC().Format(time.DateOnly) != "2026-09-21" || b.Days[0].Finding.Confidence != diagnose.Plain {
		t.Errorf("days on which the set-up was off: %+v", b.Days)
	}
	for code, name := range names {
		h, err := s.Health(code, today)
		if err != nil {
			t.Fatal(err)
		}
		if name == "Avocet" && (h.Trend == nil || h.Trend.Forecast == nil || h.Trend.Forecast.LikelyMS == nil || *h.Trend.Forecast.LikelyMS > event) {
			t.Errorf("Avocet crosses the limit before the event: %+v", h.Trend)
		}
	}
}
