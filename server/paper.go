package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/problem"
	"packwright/internal/season"
	"packwright/labels"
)

// The choices for each paper. The command line takes them as flags and the API
// as a query of the same names, both read by the same parser: the same choices
// and the same journal give the same bytes.
type (
	labelChoices struct {
		Pack     []string `placeholder:"CODE" help:"Only these packs (all in service)."`
		Size     string   `default:"a4-3x8" placeholder:"SIZE" help:"${sizes} (${default})."`
		Start    int      `default:"1" placeholder:"N" help:"First free position on a used sheet, counted by rows (${default})."`
		Copies   int      `default:"1" placeholder:"N" help:"Labels of each pack (${default})."`
		CutMarks bool     `help:"Short lines at the corners of each label."`
		Ruler    bool     `help:"A ruler of 100 mm, to check that the printer does not scale."`
		Level    string   `default:"Q" placeholder:"Q|H" help:"Error correction of the QR code (${default})."`
		BaseURL  string   `name:"base-url" placeholder:"URL" help:"Address the QR code opens (the team's)."`
		OffsetX  float64  `placeholder:"MM" help:"Moves everything right, for a printer that is off."`
		OffsetY  float64  `placeholder:"MM" help:"Moves everything down."`
	}
	checklistChoices struct {
		Pack     []string `placeholder:"CODE" help:"Only these packs (all in service)."`
		Title    string   `placeholder:"TEXT" help:"Heading, such as the event's name."`
		Date     string   `placeholder:"DATE" help:"Date of the event; left to write in."`
		Matches  int      `default:"10" placeholder:"N" help:"Number of matches (${default})."`
		Match    []string `sep:"none" placeholder:"NAME" help:"Headings of the matches, instead of their numbers."`
		Chargers int      `default:"4" placeholder:"N" help:"Columns of the charger log (${default})."`
		Paper    string   `default:"A4" placeholder:"A4|Letter" help:"Paper size (${default})."`
	}
	testsheetChoices struct {
		Pack    string `placeholder:"CODE" help:"The pack to be tested; left to write in."`
		Paper   string `default:"A4" placeholder:"A4|Letter" help:"Paper size (${default})."`
		BaseURL string `name:"base-url" placeholder:"URL" help:"Address the pack's QR code opens (the team's)."`
	}
)

// paperNotes receives a sentence for everything printed otherwise than asked.
type paperNotes func(text string)

func (o labelChoices) print(w io.Writer, f *fleet.Fleet, own string, warn paperNotes) error {
	if err := atLeastOne(count{"start", o.Start}, count{"copies", o.Copies}); err != nil {
		return err
	}
	packs, err := choosePacks(f, o.Pack)
	if err != nil {
		return err
	}
	base := baseURL(o.BaseURL, f, own)
	err = labels.Sheet(w, packs, labels.SheetOptions{
		Size: o.Size, Start: o.Start, Copies: o.Copies, CutMarks: o.CutMarks, Ruler: o.Ruler, Level: o.Level,
		BaseURL: base, OffsetXMM: o.OffsetX, OffsetYMM: o.OffsetY, Warn: warn})
	if err == nil {
		warnElsewhere(base, own, warn)
	}
	return err
}

func (o checklistChoices) print(w io.Writer, f *fleet.Fleet, _ string, warn paperNotes) error {
	if err := atLeastOne(count{"matches", o.Matches}, count{"chargers", o.Chargers}); err != nil {
		return err
	}
	packs, err := choosePacks(f, o.Pack)
	if err != nil {
		return err
	}
	packs, aside := keepAside(f, packs)
	return labels.Checklist(w, labels.ChecklistOptions{
		Title: o.Title, Date: o.Date, Packs: packs, Aside: aside, Matches: o.Match, MatchCount: o.Matches,
		Chargers: o.Chargers, Paper: o.Paper, Warn: warn})
}

func (o testsheetChoices) print(w io.Writer, f *fleet.Fleet, own string, warn paperNotes) error {
	team := f.Team()
	options := labels.TestSheetOptions{
		Paper: o.Paper, ReadAfterS: team.ReadAfterS, LoadOhm: team.Load.Ohm, LimitOhm: team.Limits.CompetitionOhm, Warn: warn}
	if o.Pack != "" {
		packs, err := choosePacks(f, []string{o.Pack})
		if err != nil {
			return err
		}
		options.Pack = &packs[0]
		options.BaseURL = baseURL(o.BaseURL, f, own)
	}
	if err := labels.TestSheet(w, options); err != nil {
		return err
	}
	if options.Pack != nil {
		warnElsewhere(options.BaseURL, own, warn)
	}
	return nil
}

// localURL is the address on paper where the team has not set one and the server
// lets no phones in. labels warns of it: only this machine opens it, but the app's
// own scanner reads the code.
const localURL = "http://localhost:8080"

// baseURL is the address on paper; own is where phones reach this server, if they
// do.
func baseURL(chosen string, f *fleet.Fleet, own string) string {
	return cmp.Or(chosen, f.Team().BaseURL, own, localURL)
}

// warnElsewhere tells that labels lead to another place than this server, another
// port included: that is right only where phones will be there for good.
func warnElsewhere(base, own string, warn paperNotes) {
	plain := func(address string) string {
		return strings.TrimSuffix(strings.TrimRight(strings.ToLower(strings.TrimSpace(address)), "/"), ":443")
	}
	if own != "" && plain(base) != plain(own) {
		warn(fmt.Sprintf("the labels lead to %s, but phones reach this server at %s: check which of them lasts", base, own))
	}
}

// atLeastOne refuses counts that make no paper.
func atLeastOne(flags ...count) error {
	for _, c := range flags {
		if c.n < 1 {
			return problem.Invalidf(c.flag, "give 1 or more", "--%s is %d", c.flag, c.n)
		}
	}
	return nil
}

type count struct {
	flag string
	n    int
}

// choosePacks gives the packs with the codes, in their order, or every pack in
// service, by name.
func choosePacks(f *fleet.Fleet, codes []string) ([]labels.Pack, error) {
	var (
		all    []labels.Pack
		byCode = map[string]labels.Pack{}
	)
	for _, row := range f.Overview(0).Packs { // names and codes do not depend on the time
		p := labels.Pack{Code: row.Code, Name: row.Name, CapacityAh: row.CapacityAh, InService: row.InService}
		byCode[p.Code] = p
		// A record may name its pack by a code that no label can carry.
		if code, err := journal.ReadCode(p.Code); !row.Retired && err == nil && code == p.Code {
			all = append(all, p)
		}
	}
	if len(codes) == 0 {
		if len(all) == 0 {
			return nil, problem.New(problem.NotFound, "add a pack in the app first", "there is no pack in service")
		}
		slices.SortFunc(all, func(a, b labels.Pack) int {
			return cmp.Or(compareNames(a.Name, b.Name), cmp.Compare(a.Code, b.Code))
		})
		return all, nil
	}
	var chosen []labels.Pack
	for _, text := range codes {
		code, err := journal.ReadCode(text)
		if err != nil {
			return nil, err
		}
		p, ok := byCode[code]
		if !ok {
			return nil, problem.New(problem.NotFound, "compare it with the label; the app lists every pack", "there is no pack %s", code)
		}
		chosen = append(chosen, p)
	}
	return chosen, nil
}

// keepAside parts packs that are to be charged for an event from those that are
// not, of which it says why, the gravest first.
func keepAside(f *fleet.Fleet, packs []labels.Pack) (charged []labels.Pack, aside []string) {
	s := season.New(f)
	rows := map[string]fleet.Row{}
	for _, row := range s.Overview(0).Packs {
		rows[row.Code] = row
	}
	said := [...]struct {
		words string
		packs []string
	}{{words: "Do not charge: "}, {words: "Charge only as its page says: "}, {words: "Do not use: "}}
	for _, p := range packs {
		care := s.Care(p.Code, 0)
		to, why := -1, ""
		switch {
		case care.Stopped():
			to, why = 0, strings.Join(care.Safety, ", ")
		case care.Lost != nil:
			to, why = 1, care.Lost.LostWords()
		case rows[p.Code].Outcome == judge.SetAside:
			to, why = 2, rows[p.Code].Reason
		}
		if to < 0 {
			charged = append(charged, p)
			continue
		}
		said[to].packs = append(said[to].packs, cmp.Or(p.Name, p.Code)+" ("+why+")")
	}
	for _, group := range said {
		if len(group.packs) > 0 {
			aside = append(aside, group.words+strings.Join(group.packs, ", ")+".")
		}
	}
	return charged, aside
}

// compareNames orders names as people do: "Pack 9" before "Pack 10", without
// regard to case.
func compareNames(a, b string) int {
	a, b = strings.ToLower(a), strings.ToLower(b)
	for a != "" && b != "" {
		na, nb := leadingDigits(a), leadingDigits(b)
		if na != "" && nb != "" {
			va, vb := strings.TrimLeft(na, "0"), strings.TrimLeft(nb, "0")
			if c := cmp.Or(cmp.Compare(len(va), len(vb)), cmp.Compare(va, vb)); c != 0 {
				return c
			}
			a, b = a[len(na):], b[len(nb):]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func leadingDigits(s string) string {
	end := strings.IndexFunc(s, func(r rune) bool { return r > unicode.MaxASCII || !unicode.IsDigit(r) })
	if end < 0 {
		return s
	}
	return s[:end]
}

// sizeList names the label formats for the help text.
func sizeList() string {
	var keys []string
	for _, s := range labels.Sizes() {
		keys = append(keys, s.Key)
	}
	return fmt.Sprintf("Label format: %s", strings.Join(keys, ", "))
}
