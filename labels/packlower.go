package labels

import (
	"fmt"
	"strings"
)

// lowerHalf draws the latest tests on the left and the latest one's working on
// the right, as many lines of both as there is room for, and gives what is left.
func (r *reportPen) lowerHalf(d *drawing, page *PackPage) (leftMM float64) {
	r.y += 2
	room := r.bottom - r.y - 9
	rows, tall := 0, 0.0
	for rows < min(historyRows, len(page.Tests)) {
		more := historyRowMM + noteMM*float64(len(r.noteLines(&page.Tests[rows], leftHalfMM)))
		if tall+more > room {
			break
		}
		rows, tall = rows+1, tall+more
	}
	if rows < min(fewestHistory, len(page.Tests)) {
		d.notes = append(d.notes, fmt.Sprintf("the report of pack %s has room for %d of its tests only", page.Pack.Code, rows))
	}
	middle := r.left + leftHalfMM + 5
	title := "Latest tests"
	if rows < len(page.Tests) {
		title = fmt.Sprintf("Latest %d of %d tests", rows, len(page.Tests))
	}
	r.t.put(r.p, bold, 10, r.left, r.y+2.5, title)
	r.history(page.Tests[:rows], r.left+leftHalfMM)
	worked := r.working(page, middle, room)
	return room - max(tall, worked)
}

const (
	leftHalfMM = 95.0 // the width of the latest tests
	dateMM     = 18.0
	noteColumn = leftHalfMM - 75
)

// noteLines are the lines that a note takes below its test; none where it fits
// beside it.
func (r *reportPen) noteLines(row *ReportTest, w float64) []string {
	if r.t.width(regular, 5.5, row.Note) <= noteColumn-1 {
		return nil
	}
	lines := r.t.wrap(regular, row.Note, w-dateMM-1, 7)
	return joined(lines, mostNoteLines)
}

func (r *reportPen) history(tests []ReportTest, right float64) {
	columns := []struct {
		title string
		w     float64
	}{{"date", dateMM}, {"R ± U", 29}, {"decision", 19}, {"by", 9}, {"", noteColumn}}
	y := r.y + 7
	x := r.left
	for _, c := range columns {
		r.t.put(r.p, regular, 7, x, y, c.title)
		x += c.w
	}
	r.p.line(r.left, y+1.2, right, y+1.2, 0.3)
	for _, row := range tests {
		y += historyRowMM
		x = r.left
		below := r.noteLines(&row, right-r.left)
		if len(below) > 0 {
			row.Note = ""
		}
		for i, text := range []string{row.Date, row.Result, row.Decision, row.By, row.Note} {
			r.t.putFit(r.p, regular, 7.5, 5.5, x, y, columns[i].w-1, text)
			x += columns[i].w
		}
		for _, l := range below {
			y += noteMM
			r.t.putFit(r.p, regular, 7, 6, r.left+dateMM, y, right-r.left-dateMM-1, l)
		}
		r.p.line(r.left, y+1.2, right, y+1.2, 0.05)
	}
}

// working draws formula, numbers and result of each step, with its words above
// where there is room for them, and gives the height it took.
func (r *reportPen) working(page *PackPage, left, room float64) float64 {
	if len(page.Working) == 0 {
		return 0
	}
	r.t.putFit(r.p, bold, 10, 8, left, r.y+2.5, r.right-left, strings.TrimSpace("How the latest was worked out "+page.WorkedOn))
	y := r.y + 7
	steps, all := r.workingSteps(page.Working, left, true)
	if all > room {
		steps, all = r.workingSteps(page.Working, left, false)
	}
	top, bottom := y, y+room
	for i, s := range steps {
		if all > room && y+s.heightMM()+workingRowMM > bottom {
			r.t.put(r.p, regular, 7, left, y, fmt.Sprintf("%d more lines are in the app", len(steps)-i))
			break
		}
		if s.label != "" {
			r.t.putFit(r.p, regular, 6.5, 5, left, y, r.right-left, s.label)
			y += workingWordsMM
		}
		for k, l := range s.lines {
			w := r.right - left
			last := k == len(s.lines)-1
			if last {
				w -= r.t.width(bold, s.resultPT, s.result) + 2
			}
			r.t.putFit(r.p, regular, 7, 5, left, y, w, l)
			if last {
				r.t.putRight(r.p, bold, s.resultPT, r.right, y, s.result)
			}
			y += workingRowMM
		}
	}
	return y - top
}

// workingStep is a step as it is drawn: the result stands at the end of the last line.
type workingStep struct {
	label    string
	lines    []string
	result   string
	resultPT float64
}

func (s *workingStep) heightMM() float64 {
	h := workingRowMM * float64(len(s.lines))
	if s.label != "" {
		h += workingWordsMM
	}
	return h
}

// workingSteps lays out a working, with the words above each formula or without,
// and gives its height.
func (r *reportPen) workingSteps(list []ReportStep, left float64, inWords bool) (steps []workingStep, heightMM float64) {
	for _, s := range list {
		words := s.Formula
		switch {
		case s.Formula == "" || s.Numbers == "as read" && !inWords:
			words = s.Label
		case s.Numbers != "":
			words += " = " + s.Numbers
		}
		step := workingStep{lines: []string{words}}
		if inWords {
			step.label = s.Label
		}
		step.result, step.resultPT = r.t.fit(bold, s.Result, 34, 7, 5)
		beside := r.right - left - r.t.width(bold, step.resultPT, step.result) - 2
		if r.t.width(regular, 5.5, words) > beside { // too long beside its result
			step.lines = joined(r.t.wrap(regular, words, beside, 6.5), mostWorkingLines)
		}
		steps = append(steps, step)
		heightMM += step.heightMM()
	}
	return steps, heightMM
}
