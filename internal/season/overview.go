package season

import "packwright/internal/fleet"

// Overview is the fleet at a glance. A pack that has plainly or likely lost a cell, or
// was mended and not tested since, is to be looked at first, whatever its resistance.
// nowMS is the present in unix ms.
func (s *Season) Overview(nowMS int64) fleet.Overview {
	s.surveyAll(nowMS)
	return s.fleet.OverviewWith(nowMS, s.doubts())
}

// Pack is everything on one pack, decided as in Overview. Errors are *problem.Error.
func (s *Season) Pack(code string, nowMS int64) (fleet.Pack, error) {
	s.surveyAll(nowMS)
	pack, err := s.fleet.PackWith(code, nowMS, s.doubts())
	if err != nil {
		return pack, err
	}
	care := s.care(s.look(code, nowMS))
	pack.Disposal = care.disposal()
	return pack, nil
}

// Test is one test with its working, as fleet.Test has it. Where a cell was missing
// it says so. Errors are *problem.Error.
func (s *Season) Test(entryID string, nowMS int64) (fleet.Test, error) {
	s.surveyAll(nowMS)
	return s.fleet.TestWith(entryID, nowMS, s.doubts())
}
