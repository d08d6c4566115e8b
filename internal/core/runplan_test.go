package core

import (
	"testing"

	"packwright/internal/logged"
)

// TestRunPlan: the pack's profile and the team's meter and robot go into the plan
// of a capacity check; a pack that is not known here is one of ten cells.
func TestRunPlan(t *testing.T) {
	s := New()
	code := ask[CodeAnswer](t, s, "new-code", `{"random":`+bytesFrom(1, 32)+`}`).Code
	record(t, s, "pack-added", code, day0, `{"name":"Blue 1","capacity_ah":2.4,"cells":8,"fuse_a":1}`)
	const load = `"load":{"ohm":10,"lead_ohm":0,"rating_w":50,"on_heat_sink":true},"stop_v":0`
	p := ask[logged.Plan](t, s, "run-plan", `{"pack":"`+code+`",`+load+`}`)
	if p.StopV != 8 || p.DurationS == nil || *p.DurationS != 9000 || len(p.Refusals) != 1 || p.Refusals[0].Code != "current-above-fuse" {
		t.Errorf("%+v", p)
	}
	if p.Options.Cells != 8 || p.Options.RatedAh != 2.4 || *p.Options.VoltPct <= 0.5 {
		t.Errorf("%+v", p.Options)
	}
	if p := ask[logged.Plan](t, s, "run-plan", `{"pack":"000000",`+load+`}`); p.StopV != 10 || p.DurationS != nil || len(p.Refusals) > 0 {
		t.Errorf("an unknown pack: %+v", p)
	}
	if p := refused(t, s, "run-plan", `{"pack":"`+code+`","load":{"ohm":0,"lead_ohm":0,"rating_w":50,"on_heat_sink":true},"stop_v":0}`); p.Field != "load.ohm" {
		t.Errorf("%+v", p)
	}
}
