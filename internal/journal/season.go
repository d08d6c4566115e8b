package journal

import (
	"packwright/internal/logged"
	"packwright/internal/place"
	"packwright/internal/problem"
)

// Bounds on what the season's entries hold.
const (
	maxRunRows    = 2000
	maxRunS       = 604_800.0 // second, a week: the slowest discharge takes a day
	maxVolts      = 100.0     // of any pack, as for a robot
	maxChargeDays = 30        // a charger left on over a month is no charge
	maxImportRows = 20_000
	maxFileChars  = 200
	maxIssues     = 20 // kinds of odd rows in a result
	maxWarnings   = 50
)

const dayMS = 24 * 60 * 60 * 1000

// checkSeason checks the team's settings for the season.
func (t Team) checkSeason() error {
	return first(
		line("event_name", "name of the event", t.EventName),
		date("event_date", t.EventDate),
		between("wanted_packs", "number of packs", "", float(t.WantedPacks), 0, 500),
		between("wanted_pct", "confidence", "%", t.WantedPct, 50, 99.9),
		between("pack_price", "price", "", t.PackPrice, 0, 1_000_000),
		line("currency", "currency", t.Currency),
		between("delivery_days", "time of delivery", "days", t.DeliveryDays, 0, 365),
		between("capacity_good_pct", "good share of the rating", "%", t.CapacityGoodPct, 10, 120),
		between("capacity_end_pct", "share at the end", "%", t.CapacityEndPct, 10, 120),
		t.sharesInOrder(),
		between("charge_factor", "charge factor", "", t.ChargeFactor, 1, 2),
		between("self_discharge_pct_month", "self-discharge", "%", t.SelfDischargePctMonth, 1, 100),
		between("top_up_days", "time between top-ups", "days", t.TopUpDays, 7, 730),
		between("condition_days", "time between conditionings", "days", t.ConditionDays, 7, 1460),
		packOrNone("reference_pack", t.ReferencePack),
	)
}

func (t Team) sharesInOrder() error {
	if t.CapacityGoodPct == nil || t.CapacityEndPct == nil || *t.CapacityEndPct <= *t.CapacityGoodPct {
		return nil
	}
	return problem.Invalidf("capacity_end_pct", "enter the lower one here", "a pack cannot be at its end at %v %% and good at %v %%", *t.CapacityEndPct, *t.CapacityGoodPct)
}

// packOrNone checks a pack's code; an empty one takes the setting away.
func packOrNone(field string, code *string) error {
	if code == nil || *code == "" || plainCode(*code) {
		return nil
	}
	return problem.Invalidf(field, "choose a pack", "%q is no pack code", short(*code))
}

func (r Repair) check() error {
	switch r.Part {
	case RepairLead, RepairConnector, RepairFuse, RepairCells, RepairOther:
		return first(text("text", "account of what was done", r.Text, maxReasonChars, needed), date("day", &r.Day))
	}
	return notListed("part", "a part that is repaired", string(r.Part))
}

func notListed(field, what, value string) error {
	return problem.Invalidf(field, "choose one of the list", "%q is not %s", short(value), what)
}

func (c Charge) check() error {
	switch c.Purpose {
	case ForUse, TopUp, Conditioning:
	default:
		return notListed("purpose", "a purpose of a charge", string(c.Purpose))
	}
	switch c.Ended {
	case EndFull, EndTimer, EndHot, EndStopped, EndFault, EndUnknown:
	default:
		return notListed("ended", "an end of a charge", string(c.Ended))
	}
	started, err := moment("started_at", c.StartedAt)
	if err != nil {
		return err
	}
	if c.EndedAt != "" {
		ended, err := moment("ended_at", c.EndedAt)
		switch {
		case err != nil:
			return err
		case ended < started:
			return problem.Invalidf("ended_at", "check both times", "the charge ends before it starts")
		case ended-started > maxChargeDays*dayMS:
			return problem.Invalidf("ended_at", "check both times", "the charge takes more than %d days", maxChargeDays)
		}
	}
	return first(
		line("charger", "charger", &c.Charger),
		between("current_a", "charging current", "A", c.CurrentA, 0.001, 200),
		between("put_in_ah", "charge put in", "Ah", c.PutInAh, 0, 400),
		between("missing_ah", "missing charge", "Ah", c.MissingAh, 0, 400),
		text("text", "note", c.Text, maxReasonChars, optional),
	)
}

// moment checks a date and time.
func moment(field, value string) (ms int64, err error) {
	ms, ok := place.TimeMS(value)
	if !ok || ms < earliestDateMS || ms > maxClockMS {
		return 0, problem.Invalidf(field, "write it like 2026-11-25T14:30:00Z", "%q is not a date and time", short(value))
	}
	return ms, nil
}

func (r Run) check() error {
	if r.Purpose != CapacityRun && r.Purpose != DriveRun {
		return notListed("purpose", "a purpose of a run", string(r.Purpose))
	}
	if r.StartedAt != "" {
		if _, err := moment("started_at", r.StartedAt); err != nil {
			return err
		}
	}
	if err := r.Options.Check(); err != nil {
		p, _ := problem.As(err) // Check gives nothing else
		return problem.Invalidf("options."+p.Field, p.Hint, "%s", p.Text)
	}
	if err := first(
		between("options.pack_c", "temperature of the pack", "°C", r.Options.PackC, -60, 120),
		named("file", "name of the file", r.File),
		text("note", "note", r.Note, maxNoteChars, optional),
	); err != nil {
		return err
	}
	switch {
	case r.Result != nil && len(r.Rows) > 0:
		return problem.Invalidf("result", "leave it out: it is worked out from the rows", "the run has both rows and a result")
	case r.Result != nil:
		return checkResult(r.Result)
	}
	return checkRows(r.Rows)
}

func checkRows(rows []RunRow) error {
	switch n := len(rows); {
	case n == 0:
		return problem.Invalidf("rows", "enter the readings", "the run has no readings")
	case n > maxRunRows:
		return problem.Invalidf("rows", "leave out every second one", "the run has %d readings, and %d are allowed", n, maxRunRows)
	}
	for i := range rows {
		if err := first(
			between("rows", "time of a reading", "s", &rows[i].TimeS, 0, maxRunS),
			between("rows", "voltage of a reading", "V", &rows[i].Volts, 0, maxVolts),
		); err != nil {
			return err
		}
	}
	return nil
}

// checkResult checks what a phone worked out from a file that nobody else has:
// its size, and that it can be drawn.
func checkResult(r *logged.Result) error {
	for _, list := range []struct {
		field   string
		n, most int
	}{{"result.curve", len(r.Curve), CurvePoints}, {"result.issues", len(r.Issues), maxIssues}, {"result.warnings", len(r.Warnings), maxWarnings}, {"result.working", len(r.Working), 0}} {
		if list.n > list.most {
			return problem.Invalidf(list.field, "shorten the list", "there are %d entries, and %d are allowed", list.n, list.most)
		}
	}
	for i := 1; i < len(r.Curve); i++ {
		if r.Curve[i].TimeS < r.Curve[i-1].TimeS {
			return problem.Invalidf("result.curve", "", "its times go back")
		}
	}
	if c := r.Capacity; c != nil {
		switch c.Verdict {
		case "", logged.Good, logged.Worn, logged.AtEnd, logged.Undecided, logged.NotReached, logged.NotPack:
		default:
			return notListed("result.capacity.verdict", "a verdict", string(c.Verdict))
		}
		if c.SharePct != nil && c.Verdict == "" {
			return problem.Invalidf("result.capacity.verdict", "give one", "the capacity has no verdict")
		}
	}
	return first(
		between("result.rows", "number of rows", "", float(&r.Rows), 2, 1e9),
		between("result.duration_s", "duration", "s", &r.DurationS, 0, 1e9),
	)
}

// named checks the name of a file.
func named(field, what, value string) error {
	if printable(value, maxFileChars) {
		return nil
	}
	return problem.Invalidf(field, "shorten it", "the %s %q does not fit in a line", what, short(value))
}

func (w Wiggle) check() error {
	if err := first(
		between("load_ohm", "load", "Ω", &w.LoadOhm, 0.01, 10_000),
		checkMeter(&w.Meter),
		text("note", "note", w.Note, maxNoteChars, optional),
	); err != nil {
		return err
	}
	seen := map[WigglePlace]bool{}
	for i := range w.Spots {
		spot := &w.Spots[i]
		switch spot.Place {
		case Still, AtConnector, LeadAtConnector, LeadMiddle, AtFuse, LeadAtPack:
		default:
			return notListed("spots", "a place on a lead", string(spot.Place))
		}
		if seen[spot.Place] {
			return problem.Invalidf("spots", "give its lowest and highest voltage together", "%s comes twice", spot.Place)
		}
		seen[spot.Place] = true
		if err := first(
			between("spots", "lowest voltage", "V", &spot.LowV, 0, maxVolts),
			between("spots", "highest voltage", "V", &spot.HighV, 0, maxVolts),
		); err != nil {
			return err
		}
		if spot.LowV > spot.HighV {
			return problem.Invalidf("spots", "swap them", "the lowest voltage of %v V is above the highest of %v V", spot.LowV, spot.HighV)
		}
	}
	switch {
	case !seen[Still]:
		return problem.Invalidf("spots", "first read the meter with nothing moved", "there is no reading with the lead still")
	case len(w.Spots) < 2:
		return problem.Invalidf("spots", "move the lead at one place at least", "the lead was moved nowhere")
	}
	return nil
}

func (m Import) check() error {
	return first(
		named("file", "name of the file", m.File),
		between("rows", "number of tests", "", float(&m.Rows), 1, maxImportRows),
		text("text", "note", m.Text, maxReasonChars, optional),
	)
}
