package fleet

import (
	"slices"

	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/problem"
)

// computed is a result kept for as long as what it depends on stays the same.
type computed struct {
	options loadtest.Options
	result  *loadtest.Result
	err     error
}

// result computes a test anew from its raw readings, or gives what was computed
// before with the same options.
func (it *item) result(o loadtest.Options) (*loadtest.Result, error) {
	if it.computed != nil && it.computed.options == o {
		return it.computed.result, it.computed.err
	}
	r, err := it.compute(o)
	it.computed = &computed{options: o, err: err}
	if err == nil {
		it.computed.result = &r
	}
	return it.computed.result, it.computed.err
}

func (it *item) compute(o loadtest.Options) (loadtest.Result, error) {
	switch b := it.content().(type) {
	case *loadtest.Test:
		return loadtest.Compute(*b, o)
	case *loadtest.Direct:
		return loadtest.ComputeDirect(*b, o)
	}
	return loadtest.Result{}, problem.New(problem.Damaged, "void it and test again", "the readings of this test cannot be read")
}

// latest is a pack's latest test that counts and can be computed, or nil. An
// a.c. reading, which cannot show that a pack is good, is taken only where there
// is nothing else.
func (f *Fleet) latest(p *pack, o loadtest.Options) *item {
	var ac *item
	for _, it := range slices.Backward(p.tests) {
		if f.voided(it) {
			continue
		}
		switch r, err := it.result(o); {
		case err != nil:
		case r.Method != loadtest.DirectAC:
			return it
		case ac == nil:
			ac = it
		}
	}
	return ac
}

func options(p Profile) loadtest.Options {
	return loadtest.Options{Cells: p.Cells, FuseA: p.FuseA}
}

// decide judges a test, with a plan for what would decide it.
func (it *item) decide(r *loadtest.Result, l judge.Limits, safety []string) judge.Decision {
	if t, ok := it.content().(*loadtest.Test); ok {
		return judge.DecideTest(*t, r, l, safety)
	}
	return judge.Decide(r, l, safety)
}

// test is one test as a view. Open safety findings are about the pack as it is
// now, so they weigh on its latest test only; an older test shows what it said.
func (f *Fleet) test(it *item, o loadtest.Options, l judge.Limits, nowMS int64) Test {
	t := f.measured(it, o, nowMS)
	t.Decision = judge.Decide(t.Result, l, nil)
	return t
}

// measured is a test with its result, and no decision.
func (f *Fleet) measured(it *item, o loadtest.Options, nowMS int64) Test {
	t := Test{Stamp: f.stamp(it, nowMS), Kind: it.kind}
	switch b := it.content().(type) {
	case *loadtest.Test:
		t.Test, t.Method = b, b.Method
	case *loadtest.Direct:
		t.Direct, t.Method = b, b.Method
	}
	r, err := it.result(o)
	if err != nil {
		t.Problem = err.Error()
	}
	t.Result = r
	return t
}

// Test is one test with its working and, where it is not decided, what would
// decide it. nowMS tells wrong clocks; 0 where the present is unknown.
func (f *Fleet) Test(entryID string, nowMS int64) (Test, error) {
	return f.TestWith(entryID, nowMS, nil)
}

// TestWith is Test with doubts by pack code: it says where a test tells of the
// resistance alone.
func (f *Fleet) TestWith(entryID string, nowMS int64, doubts map[string]Doubt) (Test, error) {
	f.fold()
	it := f.items[entryID]
	if it == nil || !it.isTest() || f.packs[it.Pack] == nil {
		return Test{}, problem.New(problem.NotFound, "it may not have reached this device yet: sync and look again", "there is no test %s", entryID)
	}
	p := f.packs[it.Pack]
	limits := f.Team().Limits
	o := options(f.profile(p))
	t := f.test(it, o, limits, nowMS)
	var safety []string
	if it == f.latest(p, o) {
		safety = openSafety(f.findings(p, nowMS))
	}
	t.Decision = it.decide(t.Result, limits, safety)
	doubts[it.Pack].mark(&t)
	if t.Result != nil {
		o.Working = true
		full, err := it.compute(o)
		if err != nil {
			return Test{}, err
		}
		t.Result = &full
	}
	return t, nil
}
