package journal

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/place"
	"packwright/internal/problem"
	"packwright/internal/strictjson"
)

// Limits of text, in characters.
const (
	maxNoteChars   = 4000
	maxReasonChars = 1000
	maxLineChars   = 60
	maxURLChars    = 100

	earliestDateMS = 315_532_800_000 // 1980-01-01, before any pack in use
)

// Check says whether an entry may be stored: its envelope and, where kind and
// version are known here, its body. Unknown kinds and newer versions pass.
// Clocks are never a reason to refuse. Errors are *problem.Error.
func (e Entry) Check() error {
	if err := e.checkEnvelope(); err != nil {
		return err
	}
	if !e.Known() {
		return nil
	}
	switch use := e.Kind.packUse(); {
	case use == packNeeded && e.Pack == "":
		return problem.Invalidf("pack", "scan the label, or type the code", "a %s entry needs a pack", e.Kind)
	case use == packRefused && e.Pack != "":
		return problem.Invalidf("pack", "leave it empty", "%s entries are not about one pack", e.Kind)
	case e.Kind == PackAdded && !validCode(e.Pack):
		return problem.Invalidf("pack", "write it as on the label, in capitals, without spaces", "no label can carry the code %q", short(e.Pack))
	}
	body := NewBody(e.Kind)
	if err := strictjson.Decode(e.Body, body); err != nil {
		return err
	}
	if profile, ok := body.(*Profile); ok && e.Kind == ProfileChanged && *profile == (Profile{}) {
		return nothingChanges()
	}
	return checkBody(body)
}

// Known says whether this program can interpret the entry.
func (e Entry) Known() bool { return e.V <= Version && e.Kind.packUse() != packUnknown }

// packUse says whether entries of a kind are about one pack.
type packUse int

const (
	packUnknown packUse = iota // the kind is unknown here
	packOptional
	packNeeded
	packRefused
)

func (k Kind) packUse() packUse {
	switch k {
	case PackAdded, ProfileChanged, LoadTest, DirectReading, Inspected, FindingClosed, Repaired, Charged, RunLogged, Wiggled:
		return packNeeded
	case Noted, Voided:
		return packOptional
	case TeamChanged, Imported:
		return packRefused
	}
	return packUnknown
}

// NewBody gives a pointer to an empty body of a kind, nil for an unknown kind.
func NewBody(kind Kind) any {
	switch kind {
	case PackAdded, ProfileChanged:
		return new(Profile)
	case LoadTest:
		return new(loadtest.Test)
	case DirectReading:
		return new(loadtest.Direct)
	case Noted:
		return new(Note)
	case Inspected:
		return new(Inspection)
	case FindingClosed:
		return new(FindingClose)
	case TeamChanged:
		return new(Team)
	case Voided:
		return new(Void)
	case Repaired:
		return new(Repair)
	case Charged:
		return new(Charge)
	case RunLogged:
		return new(Run)
	case Wiggled:
		return new(Wiggle)
	case Imported:
		return new(Import)
	}
	return nil
}

// checkBody checks a decoded body.
func checkBody(body any) error {
	switch b := body.(type) {
	case *Profile:
		return b.check()
	case *loadtest.Test:
		return first(b.Check(), text("note", "note", b.Note, maxNoteChars, optional), importOf(b.Import))
	case *loadtest.Direct:
		return first(b.Check(), text("note", "note", b.Note, maxNoteChars, optional), importOf(b.Import))
	case *Note:
		return text("text", "note", b.Text, maxNoteChars, needed)
	case *Inspection:
		return b.check()
	case *FindingClose:
		return first(reference("entry", b.Entry), text("text", "account of what was done", b.Text, maxReasonChars, needed))
	case *Team:
		return b.check()
	case *Void:
		return first(reference("entry", b.Entry), text("reason", "reason", b.Reason, maxReasonChars, optional))
	case *Repair:
		return b.check()
	case *Charge:
		return b.check()
	case *Run:
		return b.check()
	case *Wiggle:
		return b.check()
	case *Import:
		return b.check()
	}
	return nil
}

func (i Inspection) check() error {
	switch i.Finding {
	case Swollen, Leaking, Hot, CutInsulation, MeltedConnector, ReversedCell, LooseContact, Sound:
		return text("text", "description", i.Text, maxReasonChars, optional)
	case OtherSafety:
		return text("text", "description", i.Text, maxReasonChars, needed)
	}
	return problem.Invalidf("finding", "choose one of the list", "%q is not a finding", short(string(i.Finding)))
}

func nothingChanges() error {
	return problem.New(problem.Invalid, "change at least one field", "this changes nothing")
}

func (p Profile) check() error {
	return first(
		line("name", "name", p.Name),
		between("capacity_ah", "capacity", "Ah", p.CapacityAh, 0.1, 200),
		between("cells", "number of cells", "", float(p.Cells), 1, 40),
		date("in_service", p.InService),
		between("fuse_a", "fuse", "A", p.FuseA, 0.1, 500),
		between("lead_mm2", "cross-section of the lead", "mm²", p.LeadMM2, 0, 100),
		between("lead_length_mm", "length of the lead", "mm", p.LeadLengthMM, 0, 10_000),
		line("connector", "connector", p.Connector),
		optionalText("retired_why", "reason", p.RetiredWhy, maxReasonChars),
	)
}

func (t Team) check() error {
	if t == (Team{}) {
		return nothingChanges()
	}
	practice := t.PracticeOhm
	if practice != nil && *practice == 0 { // derived from the robot
		practice = nil
	}
	return first(
		line("name", "name", t.Name),
		between("competition_ohm", "competition limit", "Ω", t.CompetitionOhm, 0.001, 10),
		between("practice_ohm", "practice limit", "Ω", practice, 0.001, 10),
		checkRobot(t.Robot),
		checkMeter(t.Meter),
		checkLoad(t.Load),
		between("read_after_s", "reading time", "s", t.ReadAfterS, 0.5, 120),
		between("repeats", "number of readings", "", float(t.Repeats), 1, 30),
		between("rest_min", "rest", "min", t.RestMin, 0, 7*24*60),
		between("retest_days", "time between tests", "days", t.RetestDays, 1, 730),
		baseURL(t.BaseURL),
		t.checkSeason(),
	)
}

func checkRobot(r *judge.Robot) error {
	if r == nil {
		return nil
	}
	_, err := r.MaxResistanceOhm()
	return first(
		between("robot.rest_v", "resting voltage", "V", &r.RestV, 1, 100),
		between("robot.brownout_v", "brown-out voltage", "V", &r.BrownoutV, 0.5, 100),
		between("robot.peak_a", "peak current", "A", &r.PeakA, 0.1, 1000),
		err,
	)
}

func checkMeter(m *loadtest.Meter) error {
	if m == nil {
		return nil
	}
	return first(
		between("meter.reading_pct", "accuracy in percent of the reading", "%", &m.ReadingPct, 0, 20),
		between("meter.counts", "accuracy in counts", "counts", &m.Counts, 0, 1000),
		between("meter.resolution_v", "resolution", "V", &m.ResolutionV, 1e-7, 1),
	)
}

func checkLoad(l *loadtest.Load) error {
	if l == nil {
		return nil
	}
	return first(
		line("load.name", "name", &l.Name),
		between("load.ohm", "load", "Ω", &l.Ohm, 0.01, 10_000),
		between("load.tolerance_pct", "tolerance of the load", "%", l.TolerancePct, 0, 50),
		between("load.uncertainty_ohm", "uncertainty of the load", "Ω", l.UncertaintyOhm, 0, l.Ohm),
		between("load.tempco_ppm_k", "temperature coefficient", "ppm/K", l.TempcoPpmK, 0, 10_000),
		between("load.lead_ohm", "resistance of the load's leads", "Ω", &l.LeadOhm, 0, 10),
		between("load.rating_w", "rating of the load", "W", &l.RatingW, 0, 10_000),
		l.Check(), // what a set-up check would refuse is refused when it is set
	)
}

// importOf checks the id of the import that a test came with; most have none.
func importOf(id string) error {
	if id == "" {
		return nil
	}
	return reference("import", id)
}

// reference checks the id of another entry.
func reference(field, id string) error {
	if _, err := IDTime(id); err != nil {
		return problem.Invalidf(field, "", "%q is not the id of an entry", short(id))
	}
	return nil
}

type need bool

const (
	needed   need = true
	optional need = false
)

// text checks free text, which may have several lines.
func text(field, what, value string, limit int, n need) error {
	if chars := utf8.RuneCountInString(value); chars > limit {
		return problem.Invalidf(field, "shorten it", "the %s has %d characters, and %d are allowed", what, chars, limit)
	}
	if n == needed && strings.TrimSpace(value) == "" {
		return problem.Invalidf(field, "write a few words", "the %s is empty", what)
	}
	for _, r := range value {
		if unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' {
			return problem.Invalidf(field, "take it out", "the %s holds the control character %U", what, r)
		}
	}
	return nil
}

// optionalText is text where there is a value.
func optionalText(field, what string, value *string, limit int) error {
	if value == nil {
		return nil
	}
	return text(field, what, *value, limit, optional)
}

// line checks text of a single line.
func line(field, what string, value *string) error {
	if value == nil || printable(*value, maxLineChars) {
		return nil
	}
	return problem.Invalidf(field, "use one line of at most 60 printable characters", "the %s %q does not fit in a line", what, short(*value))
}

func between(field, what, unit string, value *float64, low, high float64) error {
	if value == nil || (*value >= low && *value <= high) {
		return nil
	}
	if unit != "" {
		unit = " " + unit
	}
	return problem.Invalidf(field, "check the number and its unit", "the %s of %v%s is out of range: %v to %v%s", what, *value, unit, low, high, unit)
}

func float(n *int) *float64 {
	if n == nil {
		return nil
	}
	f := float64(*n)
	return &f
}

// date checks a calendar date; an empty one takes the date away.
func date(field string, value *string) error {
	if value == nil || *value == "" {
		return nil
	}
	ms, ok := place.TimeMS(*value + "T00:00:00Z")
	if !ok || ms < earliestDateMS || ms > maxClockMS {
		return problem.Invalidf(field, "write it like 2026-11-25", "%q is not a date", short(*value))
	}
	return nil
}

// baseURL checks the address on labels: scheme, host and perhaps a port, in
// characters of a QR code's alphanumeric mode. It agrees with what the labels
// take, which testdata/base-url.json sees to; net/url would weigh too much here.
func baseURL(value *string) error {
	if value == nil || *value == "" {
		return nil
	}
	const digits, letters = "0123456789", "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	scheme, rest, _ := strings.Cut(strings.TrimRight(strings.TrimSpace(*value), "/"), "://")
	scheme = strings.ToLower(scheme)
	host, port, hasPort := strings.Cut(rest, ":")
	if (scheme != "https" && scheme != "http") || len(*value) > maxURLChars ||
		!only(host, digits+letters+".-") || (hasPort && !only(port, digits)) {
		return problem.Invalidf("base_url", "give scheme, name and port alone, such as https://pit.local or https://pit.local:8443",
			"%q is not an address for labels", short(*value))
	}
	return nil
}

// only says whether text consists of these characters, and at least one.
func only(text, characters string) bool {
	return text != "" && strings.Trim(text, characters) == ""
}

// first gives the first of errs that is one.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
