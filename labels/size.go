package labels

import (
	"strings"

	"packwright/internal/problem"
)

// Size is one label format. Lengths are in millimetres, positions from the
// page's top left corner. The sheets are common dimensions of the trade (no
// standard says them), with margins of half of what the labels leave over.
type Size struct {
	Key      string  `json:"key"`   // "a4-3x8"
	Title    string  `json:"title"` // for people
	Roll     bool    `json:"roll"`  // one page is one label
	Columns  int     `json:"columns"`
	Rows     int     `json:"rows"`
	PageWMM  float64 `json:"page_w_mm"`
	PageHMM  float64 `json:"page_h_mm"`
	LabelWMM float64 `json:"label_w_mm"`
	LabelHMM float64 `json:"label_h_mm"`
	LeftMM   float64 `json:"left_mm"` // page edge to first label
	TopMM    float64 `json:"top_mm"`
	PitchXMM float64 `json:"pitch_x_mm"` // left edge to left edge
	PitchYMM float64 `json:"pitch_y_mm"`
}

const mmPerInch = 25.4

// Sizes lists the label formats, the default first.
func Sizes() []Size {
	return []Size{
		{Key: "a4-3x8", Title: "A4 sheet, 3 × 8 labels of 70 × 37 mm", Columns: 3, Rows: 8,
			PageWMM: 210, PageHMM: 297, LabelWMM: 70, LabelHMM: 37, LeftMM: 0, TopMM: 0.5, PitchXMM: 70, PitchYMM: 37},
		{Key: "a4-3x7", Title: "A4 sheet, 3 × 7 labels of 63.5 × 38.1 mm", Columns: 3, Rows: 7,
			PageWMM: 210, PageHMM: 297, LabelWMM: 63.5, LabelHMM: 38.1, LeftMM: 7.21, TopMM: 15.15, PitchXMM: 66.04, PitchYMM: 38.1},
		{Key: "letter-3x10", Title: "US Letter sheet, 3 × 10 labels of 2.625 × 1 in", Columns: 3, Rows: 10,
			PageWMM: 8.5 * mmPerInch, PageHMM: 11 * mmPerInch, LabelWMM: 2.625 * mmPerInch, LabelHMM: mmPerInch,
			LeftMM: 0.1875 * mmPerInch, TopMM: 0.5 * mmPerInch, PitchXMM: 2.75 * mmPerInch, PitchYMM: mmPerInch},
		roll("roll-62x29", "roll, labels of 62 × 29 mm", 62, 29),
		roll("roll-50x30", "roll, labels of 50 × 30 mm", 50, 30),
	}
}

func roll(key, title string, w, h float64) Size {
	return Size{Key: key, Title: title, Roll: true, Columns: 1, Rows: 1,
		PageWMM: w, PageHMM: h, LabelWMM: w, LabelHMM: h, PitchXMM: w, PitchYMM: h}
}

// PerPage is the number of labels on one page.
func (s Size) PerPage() int { return s.Columns * s.Rows }

// label gives the box of the label at a position counted from 0 along the rows.
func (s Size) label(position int) box {
	column, row := position%s.Columns, position/s.Columns
	return box{
		x: s.LeftMM + float64(column)*s.PitchXMM,
		y: s.TopMM + float64(row)*s.PitchYMM,
		w: s.LabelWMM, h: s.LabelHMM,
	}
}

// Ordinary printers leave up to 5 mm of the sheet's edge white, and a sheet
// lies up to 2 mm off in the tray (common practice, no source).
const (
	edgeMM  = 5.0
	insetMM = 2.0
)

// content gives the part of a label that is printed on: the same for every
// label of the sheet, so that they look alike.
func (s Size) content(label box) box {
	dx, dy := insetMM, insetMM
	if !s.Roll {
		dx = max(dx, edgeMM-s.LeftMM)
		dy = max(dy, edgeMM-s.TopMM)
	}
	return box{label.x + dx, label.y + dy, label.w - 2*dx, label.h - 2*dy}
}

// sizeOf finds a size by its key.
func sizeOf(key string) (Size, error) {
	sizes := Sizes()
	if key == "" {
		return sizes[0], nil
	}
	keys := make([]string, len(sizes))
	for i, s := range sizes {
		if s.Key == key {
			return s, nil
		}
		keys[i] = s.Key
	}
	return Size{}, problem.Invalidf("size", "choose one of "+strings.Join(keys, ", "), "there is no label size %q", key)
}

// paperOf gives the width and height of portrait paper.
func paperOf(name string) (wMM, hMM float64, err error) {
	switch strings.ToLower(name) {
	case "", "a4":
		return 210, 297, nil
	case "letter":
		return 8.5 * mmPerInch, 11 * mmPerInch, nil
	}
	return 0, 0, problem.Invalidf("paper", "choose A4 or Letter", "there is no paper %q", name)
}
