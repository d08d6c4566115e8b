package core

import (
	"math"
	"slices"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
	"packwright/internal/measure"
	"packwright/internal/problem"
	"packwright/internal/wiring"
)

// runCheck works out a log kept by hand, with the pack's cells and rating and
// the team's shares where its options leave them open.
func (s *Session) runCheck(r *RunCheckRequest) (*logged.Result, error) {
	return s.fleet.RunResult(r.Pack, &r.Body)
}

// runLook shows how a logger's file would be read.
func (s *Session) runLook(r *RunLookRequest) (*logged.Preview, error) {
	look := func() (logged.Preview, error) { return logged.Look([]byte(r.Head), r.Whole, r.Cells, s.fleet.Clock()) }
	if r.Format != nil {
		look = func() (logged.Preview, error) {
			return logged.LookAs([]byte(r.Head), r.Whole, r.Cells, *r.Format, s.fleet.Clock())
		}
	}
	p, err := look()
	return &p, err
}

// runOpen begins to read a file; one that is being read is given up.
func (s *Session) runOpen(r *RunOpenRequest) (*Empty, error) {
	file, err := logged.Open(r.Format, r.Options)
	if err != nil {
		return nil, err
	}
	s.file = file
	return &Empty{}, nil
}

func (s *Session) runWrite(r *RunWriteRequest) (*RunWriteAnswer, error) {
	if s.file == nil {
		return nil, noFile()
	}
	s.file.Write([]byte(r.Text)) // never fails
	return &RunWriteAnswer{Rows: s.file.Rows()}, nil
}

// runFinish gives the result as a run entry keeps it.
func (s *Session) runFinish(*Empty) (*logged.Result, error) {
	if s.file == nil {
		return nil, noFile()
	}
	file := s.file
	s.file = nil
	r, err := file.Finish()
	if err != nil {
		return nil, err
	}
	r.Working = nil
	r.Curve = thin(r.Curve, journal.CurvePoints)
	return &r, nil
}

func noFile() error {
	return problem.New(problem.NotFound, "choose the file again", "no file is being read")
}

// thin joins neighbours of a curve until at most so many are left. Each keeps the
// least and greatest of its rows, so no dip is lost, in the seven digits that
// an entry has room for.
func thin(curve []logged.Bucket, most int) []logged.Bucket {
	group := (len(curve) + most - 1) / most
	var out []logged.Bucket
	for part := range slices.Chunk(curve, max(group, 1)) {
		b := logged.Bucket{TimeS: digits(part[0].TimeS), MinV: part[0].MinV, MaxV: part[0].MaxV}
		for _, other := range part {
			b.Rows += other.Rows
			b.MinV, b.MaxV = min(b.MinV, other.MinV), max(b.MaxV, other.MaxV)
			if other.MinA != nil && (b.MinA == nil || *other.MinA < *b.MinA) {
				b.MinA = other.MinA
			}
			if other.MaxA != nil && (b.MaxA == nil || *other.MaxA > *b.MaxA) {
				b.MaxA = other.MaxA
			}
		}
		b.MinV, b.MaxV = digits(b.MinV), digits(b.MaxV)
		for _, a := range []**float64{&b.MinA, &b.MaxA} {
			if *a != nil {
				short := digits(**a)
				*a = &short
			}
		}
		out = append(out, b)
	}
	return out
}

// digits rounds to seven significant digits.
func digits(v float64) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow10(6 - int(math.Floor(math.Log10(math.Abs(v)))))
	if math.IsInf(scale, 0) || scale == 0 {
		return v
	}
	return math.Round(v*scale) / scale
}

// lead works out what a lead costs, and what of the pack's latest load test it is.
func (s *Session) lead(r *LeadRequest) (*LeadAnswer, error) {
	b, err := wiring.Compute(r.Lead)
	if err != nil {
		return nil, err
	}
	a := &LeadAnswer{Budget: b}
	if result := s.season.Latest(r.Pack); result != nil {
		c, err := wiring.Compare(r.Lead, estimateOf(result))
		if err != nil {
			return nil, err
		}
		a.Comparison = &c
	}
	return a, nil
}

func estimateOf(r *loadtest.Result) measure.Estimate {
	e := measure.Estimate{Value: r.ResistanceOhm, StdUnc: r.StandardUncertaintyOhm, DoF: math.Inf(1)}
	if r.DegreesOfFreedom != nil {
		e.DoF = *r.DegreesOfFreedom
	}
	return e
}

func (s *Session) readSize(r *SizeRequest) (*wiring.Size, error) {
	size, err := wiring.ReadSize(r.Text)
	return &size, err
}
