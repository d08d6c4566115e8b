package demo

import (
	"packwright/internal/diagnose"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
)

// cast are the packs of the club by name, each as it was on seasonStart but for
// its faults.
func (d *diary) cast() map[string]*pack {
	packs := []*pack{
		{name: "Avocet", code: "191VCY", inService: "2024-09-02", capacityAh: 3, cells: 1.0, perDay: 0.0004, contactOhm: 0.021, holds: 0.93, leaks: 0.2},
		{name: "Bittern", code: "02ATPS", inService: "2025-09-01", capacityAh: 3, cells: 1.02, perDay: 0.0001, contactOhm: 0.019, holds: 0.97, leaks: 0.17},
		{name: "Coot", code: "H4596S", inService: "2026-11-23", capacityAh: 3, cells: 1, contactOhm: 0.018, holds: 1, leaks: 0.16},
		{name: "Curlew", code: "4BW21M", inService: "2025-09-01", capacityAh: 3, cells: 0.98, perDay: 0.0001, contactOhm: 0.018, holds: 0.96, leaks: 0.18, openV: 0.03},
		{name: "Dunlin", code: "EHKJTX", inService: "2023-09-04", capacityAh: 3, cells: 1.9, perDay: 0.0002, contactOhm: 0.024, holds: 0.55, leaks: 0.22, openV: -0.05},
		{name: "Grebe", code: "89DJQW", inService: "2025-09-01", capacityAh: 3, cells: 1.05, perDay: 0.0001, contactOhm: 0.02, holds: 0.95, leaks: 0.17},
		{name: "Heron", code: "PAZ759", inService: "2026-08-29", capacityAh: 3.3, cells: 0.93, contactOhm: 0.016, holds: 1.01, leaks: 0.15, openV: 0.04},
		{name: "Kestrel", code: "N6KEN4", inService: "2026-08-29", capacityAh: 3.3, cells: 0.95, contactOhm: 0.017, holds: 1.0, leaks: 0.15, openV: 0.04},
		{name: "Plover", code: "85RBQE", inService: "2024-09-02", capacityAh: 3, cells: 1.02, perDay: 0.0004, contactOhm: 0.02, holds: 0.9, leaks: 0.2, openV: -0.02},
		{name: "Rook", code: "NPG9T1", inService: "2024-09-02", capacityAh: 3, cells: 1.1, perDay: 0.0003, contactOhm: 0.021, holds: 0.72, leaks: 0.58, openV: -0.05},
		{name: "Snipe", code: "4VPGQ2", inService: "2025-09-01", capacityAh: 3, cells: 1.0, perDay: 0.0001, contactOhm: 0.019, holds: 0.96, leaks: 0.18},
		{name: "Teal", code: "E9KVV4", inService: "2024-09-02", capacityAh: 3, cells: 1.04, perDay: 0.0001, contactOhm: 0.022, holds: 0.94, leaks: 0.19},
	}
	bird := map[string]*pack{}
	for _, p := range packs {
		bird[p.name] = p
	}
	from := date("2026-02-01")
	d.plant(bird["Avocet"], fault{cause: diagnose.AgeingCells, from: from, rise: 0.0007})
	d.plant(bird["Dunlin"], fault{cause: diagnose.AgeingCells, from: from, rise: 0.006})
	d.plant(bird["Rook"], fault{cause: diagnose.AgeingCells, from: from, rise: 0.0019})
	d.plant(bird["Plover"], fault{cause: diagnose.AgeingCells, from: date("2026-04-15"), rise: 0.0022})
	d.plant(bird["Teal"], fault{cause: diagnose.ContactOrLead, from: date("2026-09-10"), until: date("2026-10-03"), ohm: 0.027, often: 1, rough: 0.1})
	d.plant(bird["Curlew"], fault{cause: diagnose.LostCell, from: date("2026-10-30")})
	d.plant(bird["Bittern"], fault{cause: diagnose.ContactOrLead, from: date("2026-11-06"), ohm: 0.029, often: 1, rough: 0.15})
	return bird
}

// ofSpring are the packs that the club had when it began to write.
var ofSpring = []string{"Avocet", "Bittern", "Curlew", "Dunlin", "Grebe", "Plover", "Rook", "Snipe", "Teal"}

// settings are what the club agreed on in February.
func (d *diary) settings() {
	d.write(journal.TeamChanged, "", journal.Team{
		Name: new("Millrace School"), CompetitionOhm: new(0.1), Robot: &judge.Robot{RestV: 12.8, BrownoutV: 8.8, PeakA: 20},
		Meter: &meter, Load: &loadtest.Load{Name: "10 Ω from the drawer", Ohm: 10, TolerancePct: new(5.0), RatingW: 25},
		ReadAfterS: new(float64(readAfterS)), Repeats: new(3), RestMin: new(60.0), RetestDays: new(21.0), To20C: new(true),
		TopUpDays: new(31.0), ConditionDays: new(180.0), SelfDischargePctMonth: new(30.0),
	})
}
