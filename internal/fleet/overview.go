package fleet

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/problem"
)

// rank is the order of attention, most urgent first.
type rank int

const (
	rankSafety rank = iota
	rankSetAside
	rankRetest
	rankUntested
	rankOld
	rankLoose
	rankRest
	rankRetired
)

// ranked is a row with its place in the order of attention.
type ranked struct {
	row    Row
	rank   rank
	weight float64 // within the rank, small first
}

// Doubt is what the history of a pack says against using it, whatever its
// resistance. It turns a decision that would let the pack be used into a retest.
type Doubt struct {
	Reason    string // one sentence; empty: nothing speaks against it
	Short     string // in a few words, for the list of packs
	Action    string // what to do
	Overtaken bool   // the latest test tells of the pack no more, so whatever was decided on it becomes a retest
	Hint      string // what else to see to, in a few words; it changes no decision
	Alone     string // why its tests from AloneMS on tell of the resistance alone: "a cell is lost"
	AloneMS   int64  // unix ms
}

// Overview is the fleet at a glance, the packs that need attention first:
// open safety findings, set aside, not decided, untested, old tests, then by
// closeness to the limit. nowMS is the present in unix ms.
func (f *Fleet) Overview(nowMS int64) Overview { return f.OverviewWith(nowMS, nil) }

// OverviewWith is Overview with doubts by pack code.
func (f *Fleet) OverviewWith(nowMS int64, doubts map[string]Doubt) Overview {
	f.fold()
	o := Overview{Team: f.Team(), TeamHistory: f.history(f.team, nowMS, journal.TeamChanged), Packs: []Row{}, Notes: f.remarks(f.notes, nowMS), Imports: f.imports(nowMS), Clones: slices.Clone(f.cloned)}
	var rows []*ranked
	for _, p := range f.packs {
		if !f.alive(p) {
			continue
		}
		row, _, _ := f.row(p, o.Team, nowMS, doubts)
		o.Counts.count(row.row)
		rows = append(rows, row)
	}
	slices.SortFunc(rows, func(a, b *ranked) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.weight, b.weight),
			strings.Compare(a.row.Name, b.row.Name), strings.Compare(a.row.Code, b.row.Code))
	})
	for _, r := range rows {
		o.Packs = append(o.Packs, r.row)
	}
	return o
}

func (c *Counts) count(r Row) {
	switch {
	case r.Retired:
		c.Retired++
	case r.Outcome == judge.Competition:
		c.Competition++
	case r.Outcome == judge.Practice:
		c.Practice++
	case r.Outcome == judge.Retest:
		c.Retest++
	case r.Outcome == judge.SetAside:
		c.SetAside++
	default:
		c.Untested++
	}
}

// row works out one pack's row, with the latest usable test (or nil) and the
// findings that went into it.
func (f *Fleet) row(p *pack, team Team, nowMS int64, doubts map[string]Doubt) (*ranked, *item, []OpenFinding) {
	row := Row{Profile: f.profile(p), TestIDs: p.ids()}
	findings := f.findings(p, nowMS)
	safety := openSafety(findings)
	o := options(row.Profile)
	latest := f.latest(p, o)
	if latest == nil {
		d := judge.Decide(nil, team.Limits, safety)
		row.Outcome, row.Reason = d.Outcome, d.Reason
		return f.place(p, row, safety, findings, team, nowMS), nil, findings
	}
	result, _ := latest.result(o) // latest has one
	d := judge.Decide(result, team.Limits, safety)
	if d.Outcome == judge.Retest {
		d = latest.decide(result, team.Limits, safety) // tells whether a better test would decide
	}
	doubt := doubts[p.code].weigh(&d)
	row.Outcome, row.TreatAs, row.Reason = d.Outcome, d.TreatAs, d.Reason
	row.BoundOnly = result.BoundOnly
	if result.BoundOnly {
		row.ResistanceOhm = result.UpperBoundOhm
	} else {
		row.ResistanceOhm, row.ExpandedOhm = &result.ResistanceOhm, &result.ExpandedUncertaintyOhm
	}
	at, off := f.at(latest, nowMS)
	row.TestedMS, row.LatestTest = &at, latest.ID
	if !off {
		days := max(0, float64(nowMS-at)/dayMS)
		row.DaysSinceTest = &days
	}
	r := f.place(p, row, safety, findings, team, nowMS)
	switch {
	case doubt != "":
		r.row.Attention = doubt
		if doubts[p.code].Overtaken {
			r.weight = math.Inf(-1)
		}
	case d.Outcome == judge.Competition || d.Outcome == judge.Practice:
		r.row.Attention = strings.Join(slices.DeleteFunc([]string{r.row.Attention, doubts[p.code].Hint}, func(s string) bool { return s == "" }), "; ")
	}
	return r, latest, findings
}

// weigh puts a doubt into a decision that would let the pack be used, and says why
// it is looked at; empty where it changes nothing.
func (d Doubt) weigh(on *judge.Decision) (attention string) {
	if d.Reason == "" || len(on.Safety) > 0 || on.Outcome == judge.Untested || on.Outcome == judge.SetAside && !d.Overtaken {
		return ""
	}
	on.ProbabilityWithinLimit = nil // of the resistance, which does not tell of the pack
	on.Outcome, on.TreatAs, on.Reason, on.Next = judge.Retest, "", d.Reason, []string{d.Action}
	return d.Short
}

// mark says of a test that it tells of the resistance alone, where it does.
func (d Doubt) mark(t *Test) {
	if d.Alone != "" && t.AtMS >= d.AloneMS && t.Result != nil {
		t.Alone = d.Alone
	}
}

// place gives a row its place in the order of attention and says why.
func (f *Fleet) place(p *pack, row Row, safety []string, findings []OpenFinding, team Team, nowMS int64) *ranked {
	r := &ranked{row: row, rank: rankRest, weight: math.Inf(1)}
	if row.ResistanceOhm != nil {
		r.weight = math.Abs(*row.ResistanceOhm - team.Limits.CompetitionOhm)
	}
	days := row.DaysSinceTest
	why := ""
	switch {
	case row.Retired:
		r.rank = rankRetired
	case len(safety) > 0:
		r.rank, why = rankSafety, "do not use: "+strings.Join(safety, ", ")
	case row.Outcome == judge.SetAside:
		r.rank, why = rankSetAside, "set aside: resistance too high"
	case row.TreatAs != "":
		r.rank, why = rankRetest, "too close to the limit to decide"
	case row.Outcome == judge.Retest:
		r.rank, why = rankRetest, "retest: not decided"
	case row.TestedMS == nil && slices.ContainsFunc(p.tests, func(it *item) bool { return !f.voided(it) }):
		r.rank, why = rankUntested, "no usable test yet"
	case row.TestedMS == nil:
		r.rank, why = rankUntested, "no test yet"
	case days == nil:
		r.rank, why = rankOld, "date of the last test unknown"
	case *days > team.RetestDays:
		r.rank, why = rankOld, "last test "+strconv.Itoa(f.clock.DaysBetween(*row.TestedMS, nowMS))+" days ago"
		r.weight = -*days
	case slices.ContainsFunc(findings, OpenFinding.open):
		r.rank, why = rankLoose, "loose contact"
	}
	r.row.Attention = why
	return r
}

// ids are the ids of all entries of a pack, in fold order.
func (p *pack) ids() []string {
	ids := make([]string, 0, len(p.items)+len(p.voids))
	for _, it := range p.items {
		ids = append(ids, it.ID)
	}
	return append(ids, p.voids...)
}

// Pack is everything on one pack, also on one whose entries are all voided.
// nowMS is the present in unix ms.
func (f *Fleet) Pack(code string, nowMS int64) (Pack, error) { return f.PackWith(code, nowMS, nil) }

// PackWith is Pack with doubts by pack code. They are about the pack: the decision
// on each of its tests stays.
func (f *Fleet) PackWith(code string, nowMS int64, doubts map[string]Doubt) (Pack, error) {
	f.fold()
	p := f.packs[code]
	if p == nil {
		return Pack{}, problem.New(problem.NotFound, "add it, or sync if another phone has added it", "there is no pack %s", code)
	}
	team := f.Team()
	row, latest, findings := f.row(p, team, nowMS, doubts)
	out := Pack{Row: row.row, Tests: []Test{}, Findings: findings, Notes: f.remarks(p.items, nowMS), History: f.history(p.items, nowMS, journal.PackAdded, journal.ProfileChanged)}
	out.Repairs, out.Charges, out.Runs, out.Wiggles = f.events(p, out.Profile, team, nowMS)
	o := options(out.Profile)
	safety := openSafety(findings)
	for _, it := range slices.Backward(p.tests) {
		t := f.test(it, o, team.Limits, nowMS)
		if it == latest {
			t.Decision = it.decide(t.Result, team.Limits, safety)
			out.Decision = t.Decision
		}
		doubts[code].mark(&t)
		out.Tests = append(out.Tests, t)
	}
	if latest == nil {
		out.Decision = judge.Decide(nil, team.Limits, safety)
	}
	doubts[code].weigh(&out.Decision)
	return out, nil
}
