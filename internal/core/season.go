package core

import (
	"packwright/internal/diagnose"
	"packwright/internal/season"
	"packwright/internal/sheet"
)

func (s *Session) health(r *PackRequest) (*season.Health, error) {
	h, err := s.season.Health(r.Code, r.NowMS)
	return &h, err
}

func (s *Session) board(r *BoardRequest) (*season.Board, error) {
	b, err := s.season.Board(season.BoardRequest{NowMS: r.NowMS, ThenMS: r.ThenMS, Wanted: r.Wanted})
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
	plan := r.Plan
	if plan == nil {
		plan = &sheet.Plan{ZoneMin: r.ZoneMin} // the rest is found out
	}
	p, err := sheet.Look(r.Text, s.season.Known(r.NowMS), r.NowMS, plan)
	return &p, err
}
