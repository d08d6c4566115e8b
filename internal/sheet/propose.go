package sheet

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"packwright/internal/cells"
)

const (
	mostHeadRows = 30  // rows above the tests that are looked at
	sampled      = 300 // rows from which a plan is guessed
)

// Check says whether a plan can be followed. Errors are *problem.Error.
func (p *Plan) Check() error {
	for _, c := range []struct {
		wrong             bool
		field, hint, text string
	}{
		{!oneOf(p.Delimiter, "", ",", ";", "\t"), "delimiter", "choose comma, semicolon or tab", quoted(p.Delimiter) + " is not a separator of columns"},
		{!oneOf(p.Decimal, "", ".", ","), "decimal", "choose point or comma", quoted(p.Decimal) + " is not a decimal sign"},
		{!oneOf(p.DateOrder, "", "ymd", "dmy", "mdy"), "date_order", "choose ymd, dmy or mdy", quoted(p.DateOrder) + " is not an order of dates"},
		{!oneOf(p.Method, "", "direct-dc", "direct-ac"), "method", "choose direct-dc or direct-ac", quoted(p.Method) + " is not how a resistance is read"},
		{p.HeadRows < 0 || p.HeadRows > mostBytes, "head_rows", "count the rows above the first test", strconv.Itoa(p.HeadRows) + " is not a number of rows"},
		{!(p.LoadOhm >= 0 && p.LoadOhm <= 10_000), "load_ohm", "give the load in ohm, such as 10", Number(p.LoadOhm) + " Ω is not a load"},
		{len(p.Columns) > mostColumns, "columns", "leave out columns", strconv.Itoa(len(p.Columns)) + " columns are too many"},
	} {
		if c.wrong {
			return bad(Field(c.field), c.hint, c.text)
		}
	}
	for i := range p.Columns {
		c := &p.Columns[i]
		if c.Field == Skip {
			continue
		}
		f := fieldOf(c.Field)
		if f == nil {
			return bad("columns", "choose one of the list", quoted(string(c.Field))+" is not what a column can be")
		}
		if c.Unit != "" && c.Unit != f.unit {
			if _, q, ok := unitNamed(c.Unit); !ok || q != f.quantity && f.quantity != words {
				return bad("columns", "choose another unit", quoted(c.Unit)+" is not a unit of column "+strconv.Itoa(i+1))
			}
		}
	}
	return nil
}

func oneOf(text string, list ...string) bool { return slices.Contains(list, text) }

// proposeDelimiter takes the separator that lets the most heads be known, and
// of equals the one that gives most rows the same number of columns.
func proposeDelimiter(text string) string {
	best, bestScore := ",", -1
	for _, d := range []string{",", ";", "\t"} {
		rows := records(text, d, mostHeadRows+20)
		width := map[int]int{}
		most := 0
		for i := range rows {
			if n := len(rows[i].cells); n > 1 {
				width[n]++
				most = max(most, width[n])
			}
		}
		_, known := findHead(rows)
		if score := 1000*known + most; score > bestScore {
			best, bestScore = d, score
		}
	}
	return best
}

// findHead gives the row with the most heads that are known, the first of
// equals, and how many those are. Two make a head; −1 where there is none.
func findHead(rows []record) (at, known int) {
	at = -1
	for i := range rows[:min(len(rows), mostHeadRows)] {
		n := 0
		for _, text := range rows[i].cells {
			// A test's own cells are numbers and dates, or long remarks.
			if h := readHead(text); len(text) < 60 && slices.ContainsFunc(fields[:], func(f field) bool { return h.strength(&f) > 0 }) {
				n++
			}
		}
		if n > known && n >= 2 {
			at, known = i, n
		}
	}
	return at, known
}

// proposeDecimal takes the sign that more numbers have.
func proposeDecimal(rows []record, delimiter string) (decimal, doubt string) {
	points, commas := 0, 0
	for i := range rows {
		for _, c := range rows[i].cells {
			bare := strings.TrimRightFunc(strings.TrimSpace(c), func(r rune) bool { return unicode.IsLetter(r) || r == ' ' || r == '°' || r == '%' })
			whole, decimals, found := strings.Cut(bare, ".")
			if found && onlyDigits(strings.TrimLeft(whole, "+-−")) && onlyDigits(decimals) {
				points++
			}
			whole, decimals, found = strings.Cut(bare, ",")
			if found && onlyDigits(strings.TrimLeft(whole, "+-−")) && onlyDigits(decimals) {
				commas++
			}
		}
	}
	if points > 0 && commas > 0 {
		doubt = "some numbers have a decimal point and some a comma: look at the rows that are refused"
	}
	if commas > points {
		return ",", doubt
	}
	return ".", doubt
}

// guess is a column while a plan is made.
type guess struct {
	head     head
	field    *field
	strength int
	cells    []string // that are not empty, of the sample
}

// proposeColumns says what each column is, from the words over it and from what
// is in it.
func proposeColumns(heads []string, sample []record, p *Plan, known []Known) []Column {
	width := len(heads)
	for i := range sample {
		width = max(width, len(sample[i].cells))
	}
	list := make([]guess, width)
	columns := make([]Column, width)
	for i := range list {
		g := &list[i]
		if i < len(heads) {
			columns[i].Name = strings.TrimSpace(heads[i])
			g.head = readHead(heads[i])
		}
		if columns[i].Name == "" {
			columns[i].Name = "column " + strconv.Itoa(i+1)
		}
		for r := range sample {
			if c := strings.TrimSpace(sample[r].cell(i)); c != "" {
				g.cells = append(g.cells, c)
			}
		}
		for k := range fields {
			if s := g.head.strength(&fields[k]); s > g.strength {
				g.field, g.strength = &fields[k], s
			}
		}
		if g.head.words == "" {
			g.byContent(known)
		}
	}
	settleLoad(list, columns, p)
	for i := range list {
		if f := list[i].field; f != nil && f.quantity != words && !list[i].numeric(p) {
			list[i].field = nil
			columns[i].Doubt = "its name is that of a number, but it holds few numbers: not used"
		}
	}
	onePerField(list, columns)
	for i := range list {
		if list[i].field != nil {
			columns[i].Field = list[i].field.name
			list[i].setUnit(&columns[i], p)
		}
	}
	return columns
}

// byContent knows a column without a name by what is in it: packs and dates.
func (g *guess) byContent(known []Known) {
	packs, dates := 0, 0
	for _, c := range g.cells {
		if k, _ := findPack(c, known); k != nil {
			packs++
		}
		if _, ok := splitDay(c); ok {
			dates++
		}
	}
	switch n := len(g.cells); {
	case n == 0:
	case 2*packs > n:
		g.field, g.strength = fieldOf(PackCode), 1
	case 2*dates > n:
		g.field, g.strength = fieldOf(TestDate), 1
	}
}

func (g *guess) numeric(p *Plan) bool {
	good := 0
	for _, c := range g.cells {
		if _, err := value(c, g.field, g.field.unit, p.Decimal); err == nil {
			good++
		}
	}
	return 2*good >= len(g.cells) // an empty column is as good as any
}

// median of the numbers of a column, 0 without any.
func (g *guess) median(f *field, p *Plan) float64 {
	var list []float64
	for _, c := range g.cells {
		if v, err := value(c, f, f.unit, p.Decimal); err == nil {
			list = append(list, v)
		}
	}
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	return list[len(list)/2]
}

// settleLoad settles a head that is only “load”: it is the loaded voltage where
// its numbers are a little below the open one, and the resistor where not.
func settleLoad(list []guess, columns []Column, p *Plan) {
	volts, loaded, load := fieldOf(OpenVolts), fieldOf(LoadedVolts), fieldOf(LoadOhms)
	open := 0.0
	for i := range list {
		if list[i].field == volts {
			open = list[i].median(volts, p)
			break
		}
	}
	for i := range list {
		g := &list[i]
		if g.strength == 0 || g.strength == ownHead || g.head.strength(loaded) != g.head.strength(load) || g.head.strength(load) < g.strength {
			continue
		}
		if v := g.median(volts, p); open > 0 && v <= open && v > 0.88*open {
			g.field = loaded
			columns[i].Doubt = "taken for the voltage under load, because it is a little below the open one"
		} else {
			g.field = load
		}
	}
}

// onePerField leaves a field to the column with the surest name; repeats are
// columns whose names differ by a number only.
func onePerField(list []guess, columns []Column) {
	for k := range fields {
		f := &fields[k]
		best := -1
		for i := range list {
			if list[i].field == f && (best < 0 || list[i].strength > list[best].strength) {
				best = i
			}
		}
		for i := range list {
			if i == best || list[i].field != f || f.many && (list[i].head.like(list[best].head) || f.name == Remark) {
				continue
			}
			list[i].field = nil
			if f.name != PackCode {
				columns[i].Doubt = "“" + columns[best].Name + "” is taken instead: not used"
			}
		}
	}
}

// setUnit takes the unit of the head, or guesses it from what is in the column.
func (g *guess) setUnit(c *Column, p *Plan) {
	if g.field.quantity == words {
		return
	}
	defer func() { g.doubtResistance(c, p) }()
	if c.Unit = g.head.unit; c.Unit != "" {
		return
	}
	c.Unit = g.field.unit
	inCells := 0
	for _, text := range g.cells {
		if strings.ContainsFunc(text, unicode.IsLetter) {
			inCells++
		}
	}
	if inCells == len(g.cells) {
		return // they have units of their own
	}
	m := g.median(g.field, p)
	other := ""
	switch g.field.name {
	case OpenVolts, LoadedVolts:
		if m > 500 {
			other = "mV"
		}
	case Resistance:
		// A pack of ten cells has tenths of an ohm at most (handbook values of 3 to
		// 10 mΩ a cell, and its lead), so ones are milliohm.
		if m > 2 {
			other = "mΩ"
		}
	case Temperature:
		if m > 45 {
			other = "°F"
		}
	case RestedMin:
		if m > 0 && m < 10 {
			other = "h"
		}
	}
	if other != "" {
		c.Unit = other
		c.Doubt = "taken for " + other + ", because the values are about " + strconv.FormatFloat(m, 'g', 4, 64)
	}
}

// doubtResistance says where a column cannot be of packs of the usual number of cells.
func (g *guess) doubtResistance(c *Column, p *Plan) {
	if g.field.name != Resistance || len(g.cells) == 0 {
		return
	}
	var list []float64
	for _, text := range g.cells {
		if v, err := value(text, g.field, c.Unit, p.Decimal); err == nil {
			list = append(list, v)
		}
	}
	if len(list) == 0 {
		return
	}
	slices.Sort(list)
	if odd := oddOhm(list[len(list)/2], cells.Usual); odd != "" {
		c.Doubt = odd
	}
}

// firstOf gives the first column of a field, −1 where there is none.
func firstOf(columns []Column, f Field) int {
	return slices.IndexFunc(columns, func(c Column) bool { return c.Field == f })
}
