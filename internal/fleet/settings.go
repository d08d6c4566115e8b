package fleet

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// Team is the effective team settings: the defaults under what was changed.
func (f *Fleet) Team() Team {
	f.fold()
	t := Defaults()
	for _, it := range f.team {
		if c, ok := it.content().(*journal.Team); ok && !f.voided(it) {
			t.change(c)
		}
	}
	// Two phones may have set limits that are fine alone and do not fit
	// together; then the practice limit falls back to the robot's.
	if t.Limits.Check() != nil {
		t.Limits.PracticeOhm = nil
	}
	// The same goes for the two shares of the rating.
	t.CapacityEndPct = min(t.CapacityEndPct, t.CapacityGoodPct)
	return t
}

func (t *Team) change(c *journal.Team) {
	set(&t.Name, c.Name)
	set(&t.Limits.CompetitionOhm, c.CompetitionOhm)
	if c.PracticeOhm != nil {
		t.Limits.PracticeOhm = nil
		if *c.PracticeOhm > 0 {
			t.Limits.PracticeOhm = c.PracticeOhm
		}
	}
	set(&t.Limits.Robot, c.Robot)
	set(&t.Meter, c.Meter)
	set(&t.Load, c.Load)
	set(&t.ReadAfterS, c.ReadAfterS)
	set(&t.Repeats, c.Repeats)
	set(&t.RestMin, c.RestMin)
	set(&t.RetestDays, c.RetestDays)
	set(&t.BaseURL, c.BaseURL)
	t.BaseURL = strings.TrimRight(t.BaseURL, "/")
	set(&t.EventName, c.EventName)
	set(&t.EventDate, c.EventDate)
	set(&t.WantedPacks, c.WantedPacks)
	set(&t.WantedPct, c.WantedPct)
	set(&t.PackPrice, c.PackPrice)
	set(&t.Currency, c.Currency)
	set(&t.DeliveryDays, c.DeliveryDays)
	set(&t.To20C, c.To20C)
	set(&t.CapacityGoodPct, c.CapacityGoodPct)
	set(&t.CapacityEndPct, c.CapacityEndPct)
	set(&t.ChargeFactor, c.ChargeFactor)
	set(&t.SelfDischargePctMonth, c.SelfDischargePctMonth)
	set(&t.TopUpDays, c.TopUpDays)
	set(&t.ConditionDays, c.ConditionDays)
	set(&t.ReferencePack, c.ReferencePack)
}

// profile is a pack's effective profile.
func (f *Fleet) profile(p *pack) Profile {
	out := Profile{Code: p.code}
	for _, it := range p.items {
		if it.kind != journal.PackAdded && it.kind != journal.ProfileChanged {
			continue
		}
		if c, ok := it.content().(*journal.Profile); ok && !f.voided(it) {
			out.change(c)
		}
	}
	return out
}

func (p *Profile) change(c *journal.Profile) {
	set(&p.Name, c.Name)
	set(&p.CapacityAh, c.CapacityAh)
	set(&p.Cells, c.Cells)
	set(&p.InService, c.InService)
	set(&p.FuseA, c.FuseA)
	set(&p.LeadMM2, c.LeadMM2)
	set(&p.LeadLengthMM, c.LeadLengthMM)
	set(&p.Connector, c.Connector)
	set(&p.Retired, c.Retired)
	set(&p.RetiredWhy, c.RetiredWhy)
}

func set[T any](to *T, value *T) {
	if value != nil {
		*to = *value
	}
}

// history lists every field that entries of these kinds set, newest first. What
// is not in force any more, or was voided, is marked as overtaken.
func (f *Fleet) history(items []*item, nowMS int64, kinds ...journal.Kind) []Change {
	list := []Change{}
	for _, it := range items {
		if !slices.Contains(kinds, it.kind) {
			continue
		}
		for _, field := range fields(it.content()) {
			field.Stamp = f.stamp(it, nowMS)
			list = append(list, field)
		}
	}
	slices.Reverse(list)
	inForce := map[string]bool{}
	for i := range list {
		c := &list[i]
		c.Overtaken = c.Voided || inForce[c.Field]
		inForce[c.Field] = inForce[c.Field] || !c.Voided
	}
	return list
}

// fields gives the fields that a *journal.Profile or *journal.Team sets, with
// their values as text; none where the body could not be read.
func fields(body any) (list []Change) {
	if _, unread := body.(error); unread {
		return nil
	}
	v := reflect.ValueOf(body).Elem()
	for i := range v.NumField() {
		if v.Field(i).IsNil() {
			continue
		}
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		list = append(list, Change{Field: name, Value: words(v.Field(i).Elem().Interface())})
	}
	return list
}

// words is the value of a field as text.
func words(value any) string {
	switch v := value.(type) {
	case judge.Robot:
		return joined(quantity("rests at ", v.RestV, "V"), quantity("browns out at ", v.BrownoutV, "V"), quantity("peak ", v.PeakA, "A"))
	case loadtest.Meter:
		return joined(v.String(), quantity("last digit ", v.ResolutionV, "V"))
	case loadtest.Load:
		sink := ""
		if v.OnHeatSink {
			sink = "on a heat sink"
		}
		return joined(v.Name, quantity("", v.Ohm, "Ω"), known("± ", v.TolerancePct, "%"), known("u = ", v.UncertaintyOhm, "Ω"),
			known("± ", v.TempcoPpmK, "ppm/K"), given("leads ", v.LeadOhm, "Ω"), given("", v.RatingW, "W"), sink)
	}
	return fmt.Sprint(value)
}

// joined puts together the parts that there are.
func joined(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(part string) bool { return part == "" }), ", ")
}

func quantity(what string, v float64, unit string) string { return what + measure.Show(v, unit) }

// known is quantity where there is a value.
func known(what string, v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return quantity(what, *v, unit)
}

// given is quantity where it is not 0, which stands for unknown or none.
func given(what string, v float64, unit string) string {
	if v == 0 {
		return ""
	}
	return quantity(what, v, unit)
}
