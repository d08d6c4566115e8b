package core

import (
	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
	"packwright/internal/strictjson"
)

func (s *Session) setupCheck(r *loadtest.Setup) (*loadtest.SetupCheck, error) {
	check, err := loadtest.CheckSetup(*r)
	return &check, err
}

// openCheck keeps a pack that is too low off the load, and finds a voltage that
// cannot be true while the probes are still on.
func (s *Session) openCheck(r *OpenCheckRequest) (*OpenCheckAnswer, error) {
	o, _ := s.circumstances(r.Pack)
	return &OpenCheckAnswer{}, loadtest.CheckOpen(r.OpenV, o)
}

// assess computes a test as it will be computed once it is saved: with the
// pack's cells and fuse, its open safety findings and the team's limits.
func (s *Session) assess(r *AssessRequest) (*Assessment, error) {
	if r.Kind != journal.LoadTest && r.Kind != journal.DirectReading {
		return nil, problem.Invalidf("kind", "use load-test or direct-reading", "a %q entry is not a test", string(r.Kind))
	}
	test := journal.NewBody(r.Kind)
	if err := strictjson.Decode(r.Body, test); err != nil {
		return nil, err
	}
	o, safety := s.circumstances(r.Pack)
	o.Working = true
	a, err := Assess(test, o, s.fleet.Team().Limits, safety)
	return &a, err
}

// circumstances are what a pack's tests are computed and judged with. A pack
// that is not known here has none.
func (s *Session) circumstances(code string) (o loadtest.Options, safety []string) {
	if !s.fleet.Has(code) {
		return o, nil
	}
	p, err := s.fleet.Pack(code, 0)
	if err != nil {
		return o, nil
	}
	return loadtest.Options{Cells: p.Cells, FuseA: p.FuseA}, p.Decision.Safety
}

// Assess computes a *loadtest.Test or *loadtest.Direct and decides on it.
func Assess(test any, o loadtest.Options, l judge.Limits, safety []string) (a Assessment, err error) {
	switch t := test.(type) {
	case *loadtest.Test:
		if a.Result, err = loadtest.Compute(*t, o); err == nil {
			a.Decision = judge.DecideTest(*t, &a.Result, l, safety)
		}
	case *loadtest.Direct:
		if a.Result, err = loadtest.ComputeDirect(*t, o); err == nil {
			a.Decision = judge.Decide(&a.Result, l, safety)
		}
	}
	return a, err
}

func (s *Session) readNumber(r *NumberRequest) (*NumberAnswer, error) {
	p, err := measure.Parse(r.Text, r.Quantity)
	if err != nil {
		return nil, err
	}
	return &NumberAnswer{Value: p.Value, Shown: p.Shown, Doubt: p.Doubt}, nil
}

// makeEntry makes an entry and checks it as the server will. The clock moves on
// only if the entry is good.
func (s *Session) makeEntry(r *MakeEntryRequest) (*MakeEntryAnswer, error) {
	random, err := bytesOf("random", r.Random)
	if err != nil {
		return nil, err
	}
	var ten [10]byte
	if copy(ten[:], random) != len(ten) || len(random) != len(ten) {
		return nil, problem.Invalidf("random", "give 10 random bytes", "there are %d random bytes", len(random))
	}
	clock := s.clock
	e := journal.Entry{
		ID: journal.NewID(r.NowMS, ten), V: journal.Version, Kind: r.Kind, Pack: r.Pack,
		Device: r.Device, By: r.By, HLC: clock.Tick(r.NowMS).String(), Body: r.Body,
	}
	raw, err := strictjson.Encode(e)
	if err != nil {
		return nil, problem.Invalidf("body", "", "the body is not JSON: %v", err)
	}
	if e, err = journal.ParseEntry(raw); err != nil {
		return nil, err
	}
	if !e.Known() {
		return nil, problem.Invalidf("kind", "update the app", "this program cannot make a %q entry", string(e.Kind))
	}
	if err := e.Check(); err != nil {
		return nil, err
	}
	s.clock = clock
	return &MakeEntryAnswer{Entry: e}, nil
}

// addEntries takes entries in, or only checks them as the server will. One that
// cannot be read harms no other.
func (s *Session) addEntries(r *AddEntriesRequest) (*AddEntriesAnswer, error) {
	a := &AddEntriesAnswer{}
	for i, raw := range r.Entries {
		e, err := journal.ParseEntry(raw)
		if err == nil && r.Check {
			if err = e.Check(); err == nil {
				continue
			}
		}
		if err != nil {
			p, _ := problem.As(err)
			a.Refused = append(a.Refused, RefusedEntry{Index: i, Reason: p.Text, Hint: p.Hint})
			continue
		}
		switch {
		case !s.fleet.Add(e):
			a.Known++
		case !e.Known():
			a.Added++
			a.Unknown++
		default:
			a.Added++
		}
	}
	a.Total = s.fleet.Len()
	// The whole batch is one message to the clock: what is made from now on
	// comes after everything in it.
	if last, err := journal.ParseStamp(s.fleet.LastHLC()); err == nil {
		s.clock.Receive(last, 0)
	}
	return a, nil
}

func (s *Session) overview(r *NowRequest) (*fleet.Overview, error) {
	o := s.season.Overview(r.NowMS)
	return &o, nil
}

func (s *Session) pack(r *PackRequest) (*fleet.Pack, error) {
	p, err := s.season.Pack(r.Code, r.NowMS)
	return &p, err
}

func (s *Session) test(r *TestRequest) (*fleet.Test, error) {
	t, err := s.season.Test(r.Entry, r.NowMS)
	return &t, err
}
