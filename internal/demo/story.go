package demo

import (
	"slices"
	"time"

	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

// The devices of the club.
const (
	benchPhone = "bench-phone"
	pitPhone   = "pit-phone"
	laptop     = "workshop-laptop"
)

// club is the diary of Millrace School.
type club struct {
	*diary
	bird  map[string]*pack
	names []string // of the packs in use, by name
	load  bench
}

// tell writes the year down.
func (d *diary) tell() {
	c := &club{diary: d, bird: d.cast(), names: slices.Clone(ofSpring)}
	c.spring()
	c.summer()
	c.september()
	c.october()
	c.november()
}

func (c *club) day(text, device, by string) { c.on(date(text), device, by) }

// round tests every pack that is there.
func (c *club) round(celsius float64, without ...string) {
	for _, name := range c.names {
		if !slices.Contains(without, name) {
			c.test(c.bird[name], c.load, celsius)
		}
	}
}

func (c *club) spring() {
	c.load = bench{ohm: 10, tolerance: new(5.0), trueOhm: 10.31}
	c.day("2026-02-14", laptop, "AO")
	c.settings()
	for _, name := range c.names {
		c.add(c.bird[name])
	}
	c.day("2026-02-16", benchPhone, "MK")
	c.round(20)
	c.note(nil, "first round: with the 10 Ω resistor most packs cannot be decided")

	c.day("2026-02-23", laptop, "AO")
	c.load = bench{ohm: 2.503, uncertainty: new(0.004), trueOhm: 2.5}
	c.write(journal.TeamChanged, "", journal.Team{Load: &loadtest.Load{
		Name: "two 5 Ω in parallel, measured", Ohm: 2.503, UncertaintyOhm: new(0.004), TempcoPpmK: new(50.0), RatingW: 100, OnHeatSink: true}})
	c.note(nil, "the new load on its heat sink was measured on the school's bench: 2.503 Ω. It gets hot: tongs and goggles are in the drawer")

	for _, r := range []struct {
		day, by string
		celsius float64
	}{{"2026-03-02", "MK", 19.5}, {"2026-03-16", "JT", 20}, {"2026-03-30", "SB", 20}, {"2026-04-20", "MK", 21}, {"2026-05-04", "JT", 21}, {"2026-05-18", "SB", 21.5}, {"2026-06-08", "MK", 22.5}, {"2026-06-22", "JT", 23}} {
		c.day(r.day, benchPhone, r.by)
		c.round(r.celsius)
	}
	c.day("2026-06-23", benchPhone, "JT")
	for _, name := range []string{"Avocet", "Plover", "Rook"} {
		c.capacity(c.bird[name], c.load, 23)
	}
	c.true(c.bird["Rook"].code, diagnose.CapacityFade, c.now, time.Time{})
}

func (c *club) summer() {
	c.true(c.bird["Rook"].code, diagnose.SelfDischarge, date("2026-06-27"), time.Time{})
	c.day("2026-06-27", laptop, "AO")
	for _, name := range c.names {
		c.charge(c.bird[name], journal.ForUse)
	}
	c.note(nil, "all packs charged and put into the cool cupboard for the summer, plugs capped")
	c.day("2026-07-28", laptop, "AO")
	for _, name := range c.names {
		c.charge(c.bird[name], journal.TopUp)
	}
	c.day("2026-08-28", laptop, "AO")
	for _, name := range c.names {
		c.charge(c.bird[name], journal.TopUp)
	}
	c.note(c.bird["Rook"], "took nearly twice as long to fill as the others")
	c.day("2026-08-29", laptop, "AO")
	for _, name := range []string{"Heron", "Kestrel"} {
		c.add(c.bird[name])
		c.names = append(c.names, name)
	}
	slices.Sort(c.names)
	c.write(journal.TeamChanged, "", journal.Team{ReferencePack: &c.bird["Kestrel"].code})
	c.note(c.bird["Kestrel"], "kept for checking the set-up: tested in every round, used for practice only on Fridays")
}

func (c *club) september() {
	c.day("2026-08-31", benchPhone, "MK")
	c.round(22.5)
	c.day("2026-09-05", benchPhone, "JT")
	c.bird["Rook"].holds = 0.53
	c.true(c.bird["Dunlin"].code, diagnose.CapacityFade, c.now, time.Time{})
	for _, name := range []string{"Dunlin", "Rook"} {
		c.capacity(c.bird[name], c.load, 22)
	}
	c.day("2026-09-07", benchPhone, "MK")
	c.round(22)

	c.day("2026-09-14", benchPhone, "JT")
	c.round(21.5)
	for _, name := range []string{"Avocet", "Bittern", "Curlew"} {
		c.probe(c.bird[name], 21.5)
	}

	c.day("2026-09-21", benchPhone, "SB")
	c.true("", diagnose.SetUp, c.now, c.now.Add(12*time.Hour))
	c.load.addedOhm = 0.011
	c.round(21)
	c.load.addedOhm = 0

	c.day("2026-09-28", benchPhone, "JT")
	c.note(nil, "last week the meter was clipped to the load and not to the packs' plugs, so the load's leads were in every reading. Always at the plug!")
	slip := c.readings(c.bird["Heron"], c.load, c.usual(20.5))
	slip.LoadedV[1]-- // 12 typed for 13
	wrong := c.write(journal.LoadTest, c.bird["Heron"].code, slip)
	c.round(20.5)
	c.voided(wrong, "typed 12 for 13 in the second reading")
	loose := c.finding(c.bird["Teal"], journal.LooseContact, "reading jumps when the lead is moved")

	c.day("2026-10-03", pitPhone, "SB")
	c.bird["Teal"].contactOhm -= 0.002
	c.repaired(c.bird["Teal"], journal.RepairConnector, "cut back and crimped both contacts anew; pull test passed")
	c.closed(c.bird["Teal"], loose, "contacts crimped anew, lead moved while reading: steady")
	c.test(c.bird["Teal"], c.load, 20)
}

func (c *club) october() {
	c.day("2026-10-04", pitPhone, "SB")
	cut := c.finding(c.bird["Grebe"], journal.CutInsulation, "red lead nicked near the fuse holder")
	c.day("2026-10-05", laptop, "AO")
	c.bird["Grebe"].contactOhm -= 0.001
	c.repaired(c.bird["Grebe"], journal.RepairLead, "lead replaced by the teacher in charge, new fuse 20 A")
	c.closed(c.bird["Grebe"], cut, "lead replaced, insulation checked along its length")
	c.write(journal.ProfileChanged, c.bird["Grebe"].code, journal.Profile{LeadMM2: new(2.5), LeadLengthMM: new(220.0)})

	c.day("2026-10-12", benchPhone, "MK")
	c.round(20)
	c.write(journal.ProfileChanged, c.bird["Dunlin"].code, journal.Profile{Retired: new(true), RetiredWhy: new("beyond the practice limit in every test this autumn")})
	c.note(c.bird["Dunlin"], "taken to the council's collection point, terminals taped")

	c.day("2026-10-17", pitPhone, "SB")
	c.note(nil, "friendly in our hall: nine matches, Heron and Curlew carried the semi-final")
	for _, name := range []string{"Heron", "Curlew", "Kestrel"} {
		c.finding(c.bird[name], journal.Sound, "after the friendly")
	}
	c.note(c.bird["Snipe"], "lent to the robotics class until further notice")
	c.names = slices.DeleteFunc(c.names, func(name string) bool { return name == "Dunlin" || name == "Snipe" })

	c.day("2026-10-19", benchPhone, "MK")
	c.round(19.5, "Heron")
	hot := c.usual(36)
	hot.rested, hot.fresh = 10, 0.4
	c.true(c.bird["Heron"].code, diagnose.NotReady, c.now, c.now.Add(time.Hour))
	c.write(journal.LoadTest, c.bird["Heron"].code, c.readings(c.bird["Heron"], c.load, hot))
	c.note(c.bird["Heron"], "straight off the charger, still warm in the hand")

	c.day("2026-10-26", benchPhone, "JT")
	c.round(17)
	c.note(nil, "the heating is off: 17 °C. Cold packs read high")
}

func (c *club) november() {
	c.day("2026-11-02", benchPhone, "SB")
	c.round(19)
	c.note(c.bird["Plover"], "gone from competition to practice: label marked")

	c.day("2026-11-08", laptop, "AO")
	for _, name := range c.names {
		c.charge(c.bird[name], journal.ForUse)
	}
	c.day("2026-11-09", benchPhone, "MK")
	c.round(19.5)
	for _, name := range []string{"Avocet", "Heron", "Kestrel"} {
		c.probe(c.bird[name], 19.5)
	}

	c.day("2026-11-14", pitPhone, "SB")
	c.finding(c.bird["Rook"], journal.Swollen, "the sleeve is tight over cell 3, warm after a short match")
	c.note(c.bird["Rook"], "in the sand bucket outside; nobody charges it")
	c.note(nil, "thank you, Rook")
	c.names = slices.DeleteFunc(c.names, func(name string) bool { return name == "Rook" })

	c.day("2026-11-16", benchPhone, "MK")
	c.round(19.5)

	c.day("2026-11-21", benchPhone, "JT")
	c.bird["Avocet"].holds, c.bird["Plover"].holds = 0.87, 0.71
	c.true(c.bird["Plover"].code, diagnose.CapacityFade, c.now, time.Time{})
	for _, name := range []string{"Avocet", "Plover", "Heron"} {
		c.capacity(c.bird[name], c.load, 20)
	}

	c.day("2026-11-22", laptop, "AO")
	for _, name := range c.names {
		c.charge(c.bird[name], journal.ForUse)
	}
	c.write(journal.TeamChanged, "", journal.Team{
		EventName: new("Spring final in the county hall"), EventDate: new("2027-03-06"), WantedPacks: new(8), WantedPct: new(90.0),
		PackPrice: new(52.0), Currency: new("€"), DeliveryDays: new(28.0),
	})
	c.day("2026-11-23", benchPhone, "JT")
	c.round(20)
	c.wiggle(c.bird["Bittern"], c.load, journal.LeadAtConnector, 0.031, "jumps when the lead is bent at the plug")
	c.day("2026-11-23", laptop, "AO")
	c.now = c.now.Add(4 * time.Hour)
	c.add(c.bird["Coot"])
	c.note(c.bird["Coot"], "new; two charge cycles to go before its first test")
}
