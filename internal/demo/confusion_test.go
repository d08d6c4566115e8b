package demo

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"packwright/internal/diagnose"
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/season"
)

// TestConfusion diagnoses 200 invented seasons, entry by entry as a phone has them,
// and compares with the truth. The rules of package diagnose were tuned on seeds 1 to
// 400; these are others, and the generator knows none of their bounds. What counts as
// found: the pack's report names the cause, whatever its confidence. What counts as
// accused: a healthy pack, or one with another fault, with a finding that is likely
// or plain; those that are only possible are counted as doubted.
func TestConfusion(t *testing.T) {
	all := newTally()
	for seed := uint64(1001); seed <= 1200; seed++ {
		entries, truth := Invent(seed)
		all.count(t, fmt.Sprint(seed), entries, truth)
	}
	t.Log(all)
	for _, c := range slices.Concat(ofPacks, ofTests) {
		if low, _ := wilson(all.found[c], all.planted[c]); low < 0.93 {
			t.Errorf("%s: found %d of %d", c, all.found[c], all.planted[c])
		}
	}
	if _, high := wilson(all.accused, all.healthy); high >= 0.02 {
		t.Errorf("%d of %d healthy packs are accused", all.accused, all.healthy)
	}
	if all.falseDays*100 > all.packs*2 || all.falseTests*100 > all.packs*2 {
		t.Errorf("%d findings of a set-up that was right, %d tests called not ready that were", all.falseDays, all.falseTests)
	}
	if t.Failed() {
		t.Log(strings.Join(all.wrong, "\n"))
	}
}

// causes of single packs, and of tests and days.
var (
	ofPacks = []diagnose.Cause{diagnose.AgeingCells, diagnose.ContactOrLead, diagnose.LostCell, diagnose.SelfDischarge, diagnose.CapacityFade}
	ofTests = []diagnose.Cause{diagnose.NotReady, diagnose.SetUp}

	withNothing = append(slices.Clone(ofPacks), "")
)

// tally is what a number of seasons came to.
type tally struct {
	planted, found map[diagnose.Cause]int
	table          map[diagnose.Cause]map[diagnose.Cause]int // planted (empty: nothing) by found (empty: nothing)
	packs, healthy int
	accused        int // healthy packs with a finding that is likely or plain
	doubted        int // healthy packs with one that is possible, at most
	falseDays      int // findings of the set-up on days when it was right
	falseTests     int // tests called not ready that were
	wrong          []string
}

func newTally() *tally {
	t := &tally{planted: map[diagnose.Cause]int{}, found: map[diagnose.Cause]int{}, table: map[diagnose.Cause]map[diagnose.Cause]int{}}
	for _, c := range withNothing {
		t.table[c] = map[diagnose.Cause]int{}
	}
	return t
}

// count diagnoses one season and compares with its truth.
func (t *tally) count(tb testing.TB, name string, entries []journal.Entry, truth []Truth) {
	tb.Helper()
	f := fleet.New()
	for _, e := range entries {
		f.Add(e)
	}
	s := season.New(f)
	is := map[string]diagnose.Cause{} // by pack, "" for healthy
	for _, row := range f.Overview(today).Packs {
		is[row.Code] = ""
	}
	reports := map[string]diagnose.Report{}
	for code := range is {
		h, err := s.Health(code, today)
		if err != nil {
			tb.Fatal(err)
		}
		reports[code] = h.Report
	}
	for _, tr := range truth {
		if _, ok := is[tr.Pack]; ok && tr.Cause != diagnose.NotReady {
			is[tr.Pack] = tr.Cause
		}
		if tr.Pack == "" || tr.Cause == diagnose.NotReady {
			t.planted[tr.Cause]++
			if meets(reports, tr) {
				t.found[tr.Cause]++
			} else {
				t.wrong = append(t.wrong, fmt.Sprintf("%s: missed %s of %s at %d", name, tr.Cause, tr.Pack, tr.FromMS))
			}
		}
	}
	for code, cause := range is {
		t.pack(name+" "+code, cause, reports[code], truth, code)
	}
	t.packs += len(is)
}

// meets: some report has a finding of that cause in that time.
func meets(reports map[string]diagnose.Report, tr Truth) bool {
	for code, r := range reports {
		for _, f := range r.Findings {
			if (tr.Pack == "" || tr.Pack == code) && f.Cause == tr.Cause && f.SinceMS <= tr.UntilMS {
				for _, id := range f.Tests {
					if ms, err := journal.IDTime(id); err == nil && ms >= tr.FromMS-1000 && ms <= tr.UntilMS {
						return true
					}
				}
			}
		}
	}
	return false
}

// pack compares one pack's findings with what it has.
func (t *tally) pack(name string, cause diagnose.Cause, r diagnose.Report, truth []Truth, code string) {
	firm, faint, hit := map[diagnose.Cause]bool{}, map[diagnose.Cause]bool{}, false
	for _, f := range r.Findings {
		switch {
		case f.Cause == diagnose.SetUp:
			if !planned(truth, "", f) {
				t.falseDays++
				t.wrong = append(t.wrong, fmt.Sprintf("%s: set-up %q", name, f.Evidence))
			}
		case f.Cause == diagnose.NotReady:
			for _, id := range f.Tests {
				if !planned(truth, code, diagnose.Finding{Cause: f.Cause, Tests: []string{id}}) {
					t.falseTests++
					t.wrong = append(t.wrong, fmt.Sprintf("%s: not ready %q", name, f.Evidence))
				}
			}
		case f.Confidence == diagnose.Possible:
			faint[f.Cause] = true
		default:
			firm[f.Cause] = true
		}
		if f.Cause == cause {
			hit = true
		}
		if f.Cause != cause && f.Cause != diagnose.NotReady && f.Cause != diagnose.SetUp {
			t.wrong = append(t.wrong, fmt.Sprintf("%s (%s): %s %s %q", name, cause, f.Confidence, f.Cause, f.Evidence))
		}
	}
	if cause == "" {
		t.healthy++
		switch {
		case len(firm) > 0:
			t.accused++
		case len(faint) > 0:
			t.doubted++
		}
	} else {
		t.planted[cause]++
		if hit {
			t.found[cause]++
		} else {
			t.wrong = append(t.wrong, fmt.Sprintf("%s: missed %s", name, cause))
		}
	}
	if len(firm) == 0 && !hit {
		t.table[cause][""]++
	}
	if hit {
		firm[cause] = cause != ""
	}
	for c, is := range firm {
		if is {
			t.table[cause][c]++
		}
	}
}

// planned: the truth has such a thing at the time of one of the tests.
func planned(truth []Truth, pack string, f diagnose.Finding) bool {
	for _, tr := range truth {
		if tr.Cause == f.Cause && tr.Pack == pack {
			for _, id := range f.Tests {
				if ms, err := journal.IDTime(id); err == nil && ms >= tr.FromMS-1000 && ms <= tr.UntilMS {
					return true
				}
			}
		}
	}
	return false
}

// wilson is the 95 % interval of a share (Wilson 1927).
func wilson(k, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.959963984540054
	p, m := float64(k)/float64(n), float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return centre - half, centre + half
}

func (t *tally) String() string {
	var b strings.Builder
	b.WriteString("\nplanted \\ found       ")
	for _, c := range withNothing {
		fmt.Fprintf(&b, "%17s", orNothing(c))
	}
	for _, c := range withNothing {
		fmt.Fprintf(&b, "\n%-22s", orNothing(c))
		for _, d := range withNothing {
			fmt.Fprintf(&b, "%17d", t.table[c][d])
		}
	}
	b.WriteString("\n")
	for _, c := range slices.Concat(ofPacks, ofTests) {
		low, high := wilson(t.found[c], t.planted[c])
		fmt.Fprintf(&b, "%-22s found %d of %d, %.3f (95 %%: %.3f to %.3f)\n", c, t.found[c], t.planted[c], float64(t.found[c])/float64(t.planted[c]), low, high)
	}
	low, high := wilson(t.accused, t.healthy)
	fmt.Fprintf(&b, "healthy packs accused %d of %d, %.4f (95 %%: %.4f to %.4f); doubted %d\n", t.accused, t.healthy, float64(t.accused)/float64(t.healthy), low, high, t.doubted)
	fmt.Fprintf(&b, "set-up findings on right days %d, tests called not ready that were %d, of %d packs\n", t.falseDays, t.falseTests, t.packs)
	return b.String()
}

func orNothing(c diagnose.Cause) string {
	if c == "" {
		return "nothing"
	}
	return string(c)
}
