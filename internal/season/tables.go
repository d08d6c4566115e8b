package season

import (
	"cmp"
	"slices"

	"packwright/internal/fleet"
	"packwright/internal/judge"
	"packwright/internal/order"
	"packwright/internal/problem"
	"packwright/internal/sheet"
)

// Table names a table that can be saved. The texts are part of the API.
type Table string

// The tables.
const (
	TestsTable   Table = "tests"
	PacksTable   Table = "packs"
	ChargesTable Table = "charges"
	RepairsTable Table = "repairs"
)

// Table makes a table of all packs, retired ones among them, as a file with its
// name (RFC 4180). Voided entries are left out. Errors are *problem.Error.
func (s *Season) Table(what Table, nowMS int64) (name, text string, err error) {
	var head []string
	var rows [][]string
	switch what {
	case TestsTable:
		head, rows = sheet.Tests(s.tests(nowMS))
	case PacksTable:
		head, rows = sheet.Packs(s.packRows(nowMS))
	case ChargesTable:
		head, rows = sheet.Charges(s.charges(nowMS))
	case RepairsTable:
		head, rows = sheet.Repairs(s.repairs(nowMS))
	default:
		return "", "", problem.Invalidf("what", "choose tests, packs, charges or repairs", "there is no table of %q", string(what))
	}
	return string(what) + " " + s.fleet.Clock().Date(nowMS) + ".csv", sheet.Write(head, rows), nil
}

// Known are the packs with their tests, for reading a table in.
func (s *Season) Known(nowMS int64) []sheet.Known {
	list := []sheet.Known{}
	s.each(nowMS, func(r *fleet.Record) {
		list = append(list, sheet.Known{Code: r.Profile.Code, Name: r.Profile.Name, Cells: r.Profile.Cells})
	})
	for _, t := range s.tests(nowMS) {
		at, _ := slices.BinarySearchFunc(list, t.Code, func(k sheet.Known, code string) int { return cmp.Compare(k.Code, code) })
		list[at].Tests = append(list[at].Tests, t)
	}
	return list
}

// tests are all that count, by time.
func (s *Season) tests(nowMS int64) []sheet.Test {
	list := []sheet.Test{}
	limits := s.fleet.Team().Limits
	s.each(nowMS, func(r *fleet.Record) {
		for i := range r.Tests {
			if t := &r.Tests[i]; !t.Voided && (t.Test != nil || t.Direct != nil) {
				list = append(list, sheet.Test{
					Code: r.Profile.Code, Name: r.Profile.Name, AtMS: t.AtMS, By: t.By, Test: t.Test, Direct: t.Direct,
					Result: t.Result, Outcome: string(judge.Decide(t.Result, limits, nil).Outcome),
				})
			}
		}
	})
	order.Stable(list, func(a, b *sheet.Test) int { return cmp.Compare(a.AtMS, b.AtMS) })
	return list
}

func (s *Season) packRows(nowMS int64) []sheet.Pack {
	list := []sheet.Pack{}
	for _, row := range s.Overview(nowMS).Packs {
		p := row.Profile
		list = append(list, sheet.Pack{
			Code: p.Code, Name: p.Name, Cells: p.Cells, CapacityAh: p.CapacityAh, FuseA: p.FuseA, LeadMM2: p.LeadMM2, LeadLengthMM: p.LeadLengthMM,
			InService: p.InService, Connector: p.Connector, Retired: p.Retired, RetiredWhy: p.RetiredWhy,
			Outcome: string(row.Outcome), ResistanceOhm: row.ResistanceOhm, PlusOhm: row.ExpandedOhm, TestedMS: row.TestedMS,
		})
	}
	return list
}

func (s *Season) charges(nowMS int64) []sheet.Charge {
	list := []sheet.Charge{}
	s.each(nowMS, func(r *fleet.Record) {
		for _, c := range r.Charges {
			if !c.Voided {
				list = append(list, sheet.Charge{Code: r.Profile.Code, Name: r.Profile.Name, By: c.By, StartedMS: c.StartedMS, EndedMS: c.EndedMS, Charge: c.Charge})
			}
		}
	})
	order.Stable(list, func(a, b *sheet.Charge) int { return cmp.Compare(a.StartedMS, b.StartedMS) })
	return list
}

func (s *Season) repairs(nowMS int64) []sheet.Repair {
	list := []sheet.Repair{}
	s.each(nowMS, func(r *fleet.Record) {
		for _, w := range r.Repairs {
			if !w.Voided {
				repair := sheet.Repair{Code: r.Profile.Code, Name: r.Profile.Name, By: w.By, AtMS: w.AtMS}
				repair.Part, repair.Text = w.Part, w.Text
				list = append(list, repair)
			}
		}
	})
	order.Stable(list, func(a, b *sheet.Repair) int { return cmp.Compare(a.AtMS, b.AtMS) })
	return list
}

// each calls f with the record of every pack, by code.
func (s *Season) each(nowMS int64, f func(*fleet.Record)) {
	for _, code := range s.fleet.SortedCodes() {
		f(&s.look(code, nowMS).record)
	}
}
