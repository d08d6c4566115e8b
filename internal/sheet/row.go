package sheet

import (
	"strconv"
	"strings"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/strictjson"
)

// What is taken where a table does not say it: a plain hand-held meter, the
// resistor most teams find first, and a resistance of unknown origin (common
// practice, no source).
const (
	usualMeterPct     = 0.5
	usualMeterCounts  = 2.0
	usualTolerancePct = 5.0
	usualAccuracyPct  = 10.0
)

const earliestMS = 315_532_800_000 // 1980-01-01, before any pack in use

// make makes an entry's body of a row, or says why not.
func (l *looking) make(row *record) Made {
	m := Made{Line: row.line}
	err := l.fill(&m, row)
	if p, ok := problem.As(err); ok {
		m.Problem, m.Hint = p.Text, p.Hint
		m.Body, m.Kind = nil, ""
	} else if err != nil {
		m.Problem = err.Error()
	}
	return m
}

func (l *looking) fill(m *Made, row *record) error {
	if row.fault != "" {
		return bad(Skip, "look for a stray \" in this row", row.fault)
	}
	texts := l.texts(row)
	pack, guessed := findPack(orElse(texts[PackCode], l.plan.Pack), l.known)
	name := strings.TrimSpace(orElse(texts[PackCode], l.plan.Pack))
	switch {
	case name == "":
		return bad(PackCode, "write the pack's name or code in every row", "no pack is named")
	case pack == nil:
		return bad(PackCode, "add the pack first, or write its name as in the app", "there is no pack “"+short(name)+"”")
	case guessed:
		l.doubt("“" + short(name) + "” is taken for " + pack.Name)
	}
	m.Pack = pack.Code
	if texts[TestDate] == "" {
		return bad(TestDate, "write a date in every row", "the date is missing")
	}
	clock := l.clock
	if at := firstOf(l.plan.Columns, TestDate); at >= 0 && strings.HasSuffix(plainLetters(l.plan.Columns[at].Name), "utc") {
		clock = nil
	}
	atMS, timed, err := momentOf(texts[TestDate], texts[TestTime], l.plan.DateOrder, clock)
	if err != nil {
		return err
	}
	m.AtMS = atMS
	if m.AtMS < earliestMS || m.AtMS > l.now+dayMS {
		return bad(TestDate, "correct the date, or choose another order of dates", short(texts[TestDate])+" is not a day of a test")
	}
	var cut bool
	if m.By, cut = initials(texts[WhoTested]); cut {
		texts[Remark] = joined(texts[Remark], "tested by "+texts[WhoTested])
	}
	charge, ok := chargeOf(texts[ChargeState], l.plan.Decimal)
	if !ok {
		texts[Remark] = joined(texts[Remark], "charge: "+texts[ChargeState])
	}
	if loaded(row, l, texts[MethodUsed]) {
		return l.loadTest(m, row, texts, charge, pack, timed)
	}
	return l.direct(m, row, texts, charge, pack, timed)
}

// texts are the cells of a row that are no numbers, by field; repeats joined.
func (l *looking) texts(row *record) map[Field]string {
	texts := map[Field]string{}
	for i, f := range l.places {
		if f != nil && f.quantity == words {
			texts[f.name] = joined(texts[f.name], strings.TrimSpace(row.cell(i)))
		}
	}
	return texts
}

func joined(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}

// loaded tells a load test from a resistance: by the method, or by voltages.
func loaded(row *record, l *looking, method string) bool {
	if method != "" {
		return !strings.HasPrefix(method, "direct-")
	}
	for i, f := range l.places {
		if f != nil && f.name == LoadedVolts && strings.TrimSpace(row.cell(i)) != "" {
			return true
		}
	}
	for i, f := range l.places {
		if f != nil && f.name == Resistance && strings.TrimSpace(row.cell(i)) != "" {
			return false
		}
	}
	return true
}

func (l *looking) loadTest(m *Made, row *record, texts map[Field]string, charge loadtest.Charge, pack *Known, timed bool) error {
	m.Kind = journal.LoadTest
	t := &loadtest.Test{Method: loadtest.Method(texts[MethodUsed]), Charge: charge, Note: texts[Remark], TakenAt: place.TimeText(m.AtMS)}
	if err := l.numbers(row, t, nil); err != nil {
		return err
	}
	if err := l.paired(row); err != nil {
		return err
	}
	if t.LoadOhm == 0 && t.Load1Ohm == 0 && len(t.CurrentA) == 0 {
		t.LoadOhm = l.plan.LoadOhm
	}
	if t.Method == "" {
		if t.Method = loadtest.KnownLoad; len(t.CurrentA) > 0 {
			t.Method = loadtest.MeasuredCurrent
		}
	}
	if t.Meter.ResolutionV == 0 { // a table that says nothing of the meter
		t.Meter = loadtest.Meter{ReadingPct: usualMeterPct, Counts: usualMeterCounts, ResolutionV: l.stepV}
		if t.LoadTolerancePct == nil && t.LoadUncertaintyOhm == nil && t.Method == loadtest.KnownLoad {
			tolerance := usualTolerancePct
			t.LoadTolerancePct = &tolerance
		}
	}
	if t.Method == loadtest.KnownLoad {
		switch {
		case len(t.OpenV) == 0:
			return bad(OpenVolts, "write it in, or leave the row out", "the voltage without load is missing")
		case len(t.LoadedV) == 0:
			return bad(LoadedVolts, "write it in, or leave the row out", "the voltage under load is missing")
		case t.LoadOhm == 0:
			return bad(LoadOhms, "type the load once for the whole table", "the load is missing")
		}
	}
	if err := l.check(m, t); err != nil {
		return err
	}
	r, err := loadtest.Compute(*t, loadtest.Options{Cells: pack.Cells})
	if err != nil {
		return err
	}
	m.Shown = shown(&r)
	l.mark(m, t, nil, timed)
	return nil
}

func (l *looking) direct(m *Made, row *record, texts map[Field]string, charge loadtest.Charge, pack *Known, timed bool) error {
	m.Kind = journal.DirectReading
	d := &loadtest.Direct{Method: loadtest.Method(orElse(texts[MethodUsed], orElse(l.plan.Method, "direct-dc"))), Charge: charge, Note: texts[Remark], TakenAt: place.TimeText(m.AtMS)}
	if err := l.numbers(row, nil, d); err != nil {
		return err
	}
	if d.ResolutionOhm == 0 {
		d.AccuracyPct, d.Counts, d.ResolutionOhm = usualAccuracyPct, 0, l.stepR
	}
	if len(d.ResistanceOhm) == 0 {
		return bad(Resistance, "write it in, or leave the row out", "the resistance is missing")
	}
	if texts[MethodUsed] == "" { // not of a table that this program wrote
		if err := l.plausible(row, d, pack.Cells); err != nil {
			return err
		}
	}
	if err := l.check(m, d); err != nil {
		return err
	}
	r, err := loadtest.ComputeDirect(*d, loadtest.Options{})
	if err != nil {
		return err
	}
	m.Shown = shown(&r)
	l.mark(m, nil, d, timed)
	return nil
}

// numbers puts the numbers of a row where they belong.
func (l *looking) numbers(row *record, t *loadtest.Test, d *loadtest.Direct) error {
	for i, f := range l.places {
		text := strings.TrimSpace(row.cell(i))
		if f == nil || f.place == nil || text == "" {
			continue
		}
		at := f.place(t, d)
		if at == nil {
			continue // of the other kind of record
		}
		v, err := value(text, f, orElse(l.plan.Columns[i].Unit, f.unit), l.plan.Decimal)
		if err != nil {
			return err
		}
		switch at := at.(type) {
		case *float64:
			*at = v
		case **float64:
			*at = &v
		case *[]float64:
			*at = append(*at, v)
		}
	}
	return nil
}

// paired refuses a row where one of several open and loaded readings lacks its
// partner: what is left would be paired wrongly.
func (l *looking) paired(row *record) error {
	var open, loaded []bool // whether it is filled in, by column
	for i, f := range l.places {
		switch {
		case f == nil:
		case f.name == OpenVolts:
			open = append(open, strings.TrimSpace(row.cell(i)) != "")
		case f.name == LoadedVolts:
			loaded = append(loaded, strings.TrimSpace(row.cell(i)) != "")
		}
	}
	if len(open) != len(loaded) || len(open) < 2 {
		return nil // what is missing is told by its name, and lists of other lengths by the journal
	}
	for i := range open {
		if open[i] != loaded[i] {
			return bad(OpenVolts, "write it in, or leave both out", "reading "+strconv.Itoa(i+1)+" has only one of its two voltages")
		}
	}
	return nil
}

// check makes the body and lets the journal look at it.
func (l *looking) check(m *Made, body any) error {
	raw, err := strictjson.Encode(body)
	if err != nil {
		return err
	}
	m.Body = raw
	return journal.Entry{ID: journal.NewID(0, [10]byte{}), V: journal.Version, Kind: m.Kind, Pack: m.Pack,
		Device: "import", By: m.By, HLC: "0000000000000-0000", Body: raw}.Check()
}

// mark tells a test that is there already, or that stands in the table twice.
func (l *looking) mark(m *Made, t *loadtest.Test, d *loadtest.Direct, timed bool) {
	when := l.dayOf(m.AtMS)
	if timed {
		when = minuteOf(m.AtMS)
	}
	m.Again = l.seen[sameKey(m.Pack, when, t, d)]
	l.see(m.Pack, m.AtMS, t, d)
}

// see keeps a test for those that come after it, with and without a time of day.
func (l *looking) see(code string, atMS int64, t *loadtest.Test, d *loadtest.Direct) {
	l.seen[sameKey(code, l.dayOf(atMS), t, d)] = true
	l.seen[sameKey(code, minuteOf(atMS), t, d)] = true
}

func (l *looking) dayOf(ms int64) string { return "day " + strconv.Itoa(l.clock.Day(ms)) }

// minuteOf leaves out the seconds, which spreadsheets often drop.
func minuteOf(ms int64) string { return "minute " + strconv.FormatInt(ms/60_000, 10) }

// sameKey is what makes two tests the same: pack, day or minute, and readings.
func sameKey(code, when string, t *loadtest.Test, d *loadtest.Direct) string {
	key := code + " " + when
	add := func(name string, list []float64) {
		key += name
		for _, v := range list {
			key += " " + strconv.FormatFloat(v, 'g', 9, 64)
		}
	}
	if t != nil {
		add(" open", t.OpenV)
		add(" loaded", t.LoadedV)
		add(" on 1", t.Loaded1V)
		add(" on 2", t.Loaded2V)
		return key
	}
	add(" read", d.ResistanceOhm)
	return key
}

// shown says in a line what a row comes to.
func shown(r *loadtest.Result) string {
	text := measure.ShowInterval(r.ResistanceOhm, r.ExpandedUncertaintyOhm, "Ω")
	if r.BoundOnly && r.UpperBoundOhm != nil {
		text = "at most " + measure.ShowDigits(*r.UpperBoundOhm, 3, "Ω")
	}
	if r.OpenV != nil && r.LoadedV != nil {
		text = measure.Show(*r.OpenV, "V") + " open, " + measure.Show(*r.LoadedV, "V") + " on load: " + text
	}
	return text
}
