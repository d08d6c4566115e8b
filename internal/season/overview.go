package season

import "packwright/internal/fleet"

// Overview is the fleet at a glance. A pack that has plainly or likely lost a cell is
// to be looked at first, whatever its resistance. nowMS is the present in unix ms.
func (s *Season) Overview(nowMS int64) fleet.Overview {
	s.surveyAll(nowMS)
	return s.fleet.OverviewWith(nowMS, s.doubts())
}

// Pack is everything on one pack, decided as in Overview. Errors are *problem.Error.
func (s *Season) Pack(code string, nowMS int64) (fleet.Pack, error) {
	s.surveyAll(nowMS)
	return s.fleet.PackWith(code, nowMS, s.doubts())
}

// doubts are what speaks against packs of the survey.
func (s *Season) doubts() map[string]fleet.Doubt {
	doubts := map[string]fleet.Doubt{}
	for _, code := range s.codes {
		if f := s.survey.LostCell(code); f != nil && heldBack(f) {
			doubts[code] = fleet.Doubt{Reason: "the open-circuit voltage says that a cell may be lost, whatever the resistance", Short: "look first: a cell may be lost", Action: f.Action}
		}
	}
	return doubts
}
