package core

import (
	"packwright/internal/diagnose"
	"packwright/internal/season"
	"packwright/internal/sheet"
)

func (s *Session) here(r *HereRequest) (*Empty, error) {
	if err := r.Shifts.Check(); err != nil {
		return nil, err
	}
	s.fleet.SetClock(r.Shifts)
	return &Empty{}, nil
}

func (s *Session) health(r *PackRequest) (*season.Health, error) {
	h, err := s.season.Health(r.Code, r.NowMS)
	return &h, err
}

func (s *Session) board(r *BoardRequest) (*season.Board, error) {
	b, err := s.season.Board(season.BoardRequest{NowMS: r.NowMS, Day: r.Day, Wanted: r.Wanted})
	return &b, err
}

func (s *Session) wiggleCheck(r *WiggleCheckRequest) (*diagnose.WiggleResult, error) {
	w, err := diagnose.JudgeWiggle(r.Body)
	return &w, err
}

func (s *Session) calendar(r *NowRequest) (*TextAnswer, error) {
	return &TextAnswer{Text: s.season.Calendar(r.NowMS)}, nil
}

func (s *Session) saveTable(r *TableRequest) (*TableAnswer, error) {
	name, text, err := s.season.Table(r.What, r.NowMS)
	return &TableAnswer{Name: name, Text: text}, err
}

func (s *Session) importLook(r *ImportLookRequest) (*sheet.Preview, error) {
	p, err := sheet.Look(r.Text, s.season.Known(r.NowMS), r.NowMS, s.fleet.Clock(), r.Plan)
	return &p, err
}
