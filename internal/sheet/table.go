package sheet

import (
	"strconv"

	"packwright/internal/journal"
	"packwright/internal/measure"
)

// Tests makes a table of tests, a row each, from which Look makes the same
// bodies again: all that was read, and what it comes to. Columns that would be
// empty are left out. Give it tests that count; a voided one would count again.
func Tests(tests []Test) (head []string, rows [][]string) {
	rows = make([][]string, len(tests))
	put := func(name string, f *field, n int) {
		head = append(head, name)
		for i := range tests {
			rows[i] = append(rows[i], tests[i].cell(name, f, n))
		}
	}
	for k := range fields {
		f := &fields[k]
		switch f.name {
		case TestTime:
			continue
		case Remark:
			for _, name := range []string{resultHead, plusHead, decisionHead} {
				put(name, nil, 0)
			}
		}
		if f.place == nil {
			put(f.heading, f, 0)
		}
		for n := range most(tests, f) {
			name := f.heading
			if f.many {
				name += " " + strconv.Itoa(n+1)
			}
			put(name+" ("+f.unit+")", f, n)
		}
		if f.name == PackCode {
			put(nameHead, nil, 0)
		}
	}
	return head, rows
}

// Heads of what is not read back.
const (
	nameHead     = "pack name"
	resultHead   = "result (Ω)"
	plusHead     = "result ± (Ω)"
	decisionHead = "decision"
)

// cell is the n-th cell of a field, or what stands under a head without one.
func (t *Test) cell(head string, f *field, n int) string {
	switch {
	case f != nil && f.place == nil:
		return t.text(f.name)
	case f != nil:
		return t.number(f, n)
	case head == nameHead:
		return t.Name
	case head == decisionHead:
		return t.Outcome
	case t.Result == nil || t.Result.BoundOnly:
		return ""
	case head == resultHead:
		return measure.ShowDigits(t.Result.ResistanceOhm, 4, "")
	}
	return measure.ShowDigits(t.Result.ExpandedUncertaintyOhm, 4, "")
}

// text is a cell that holds no number.
func (t *Test) text(f Field) string {
	charge, note, method := "", "", ""
	if t.Test != nil {
		charge, note, method = string(t.Test.Charge), t.Test.Note, string(t.Test.Method)
	} else {
		charge, note, method = string(t.Direct.Charge), t.Direct.Note, string(t.Direct.Method)
	}
	switch f {
	case PackCode:
		return t.Code
	case TestDate:
		return Moment(t.AtMS)
	case MethodUsed:
		return method
	case ChargeState:
		return charge
	case WhoTested:
		return t.By
	}
	return note
}

// number is the n-th value of a field, empty where there is none.
func (t *Test) number(f *field, n int) string {
	switch at := f.place(t.Test, t.Direct).(type) {
	case *float64:
		if *at != 0 {
			return Number(*at)
		}
	case **float64:
		if *at != nil {
			return Number(**at)
		}
	case *[]float64:
		if n < len(*at) {
			return Number((*at)[n])
		}
	}
	return ""
}

// most is how many columns a field needs.
func most(tests []Test, f *field) int {
	n := 0
	for i := range tests {
		if f.place == nil {
			break
		}
		if list, ok := f.place(tests[i].Test, tests[i].Direct).(*[]float64); ok {
			n = max(n, len(*list))
		} else if n == 0 && tests[i].number(f, 0) != "" {
			n = 1
		}
	}
	return n
}

// Number writes a number for a cell, with every digit it needs.
//
//go:noinline
func Number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// maybe writes a number that may be missing.
func maybe(v *float64) string {
	if v == nil {
		return ""
	}
	return Number(*v)
}

// known writes a number of which 0 says that nobody knows.
func known(v float64) string {
	if v == 0 {
		return ""
	}
	return Number(v)
}

// Pack is a row of a table of packs.
type Pack struct {
	Code, Name                               string
	Cells                                    int
	CapacityAh, FuseA, LeadMM2, LeadLengthMM float64 // 0: not known
	InService                                string  // YYYY-MM-DD
	Connector                                string
	Retired                                  bool
	RetiredWhy                               string
	Outcome                                  string   // see judge.Outcome
	ResistanceOhm, PlusOhm                   *float64 // of the latest usable test
	TestedMS                                 *int64   // unix ms
}

// Packs makes a table of packs.
func Packs(packs []Pack) (head []string, rows [][]string) {
	head = []string{"pack", "pack name", "rated capacity (Ah)", "cells", "in service", "fuse (A)", "lead (mm²)", "length of the lead (mm)", "connector",
		"decision", "resistance (Ω)", "± (Ω)", "tested at UTC", "retired", "retired because"}
	for _, p := range packs {
		retired, tested := "", ""
		if p.Retired {
			retired = "yes"
		}
		if p.TestedMS != nil {
			tested = Moment(*p.TestedMS)
		}
		rows = append(rows, []string{p.Code, p.Name, known(p.CapacityAh), strconv.Itoa(p.Cells), p.InService, known(p.FuseA), known(p.LeadMM2), known(p.LeadLengthMM), p.Connector,
			p.Outcome, maybe(p.ResistanceOhm), maybe(p.PlusOhm), tested, retired, p.RetiredWhy})
	}
	return head, rows
}

// Charge is a row of a table of charges.
type Charge struct {
	Code, Name, By string
	StartedMS      int64  // unix ms
	EndedMS        *int64 // unix ms; nil where not known
	journal.Charge
}

// Charges makes a table of charges.
func Charges(charges []Charge) (head []string, rows [][]string) {
	head = []string{"pack", "pack name", "begun at UTC", "ended at UTC", "purpose", "charger", "current (A)", "put in (Ah)", "missing before (Ah)", "ended by", "by", "note"}
	for _, c := range charges {
		ended := ""
		if c.EndedMS != nil {
			ended = Moment(*c.EndedMS)
		}
		rows = append(rows, []string{c.Code, c.Name, Moment(c.StartedMS), ended, string(c.Purpose), c.Charger, maybe(c.CurrentA), maybe(c.PutInAh), maybe(c.MissingAh), string(c.Ended), c.By, c.Text})
	}
	return head, rows
}

// Repair is a row of a table of repairs.
type Repair struct {
	Code, Name, By string
	AtMS           int64 // unix ms
	journal.Repair
}

// Repairs makes a table of repairs.
func Repairs(repairs []Repair) (head []string, rows [][]string) {
	head = []string{"pack", "pack name", "repaired at UTC", "part", "what was done", "by"}
	for _, r := range repairs {
		rows = append(rows, []string{r.Code, r.Name, Moment(r.AtMS), string(r.Part), r.Text, r.By})
	}
	return head, rows
}
