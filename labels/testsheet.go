package labels

import (
	"fmt"
	"math"
	"strconv"

	"packwright/internal/problem"
)

// testCautions are the usual cautions of a load test (common practice, no source).
var testCautions = [...]string{
	"The cell maker’s instructions and the event’s rules come first. Students test with an adult present.",
	"The load and its leads get hot enough to burn skin. Touch neither the load nor bare leads.",
	"Hold it by an insulated clip, handle or connector, or let it lie on something that cannot burn. Leave it until it has cooled.",
	"Wear eye protection, take off rings and watch, work with one hand. Never short the terminals.",
	"Stop at once on heat, smell, hissing or swelling: disconnect, step back, call the adult in charge, air the place.",
	"Never test a pack that is swollen, leaking, hot or damaged: set it aside.",
}

// layoutTestSheet draws the one page.
func layoutTestSheet(t *typesetter, o TestSheetOptions) (*drawing, error) {
	w, h, err := paperOf(o.Paper)
	if err != nil {
		return nil, err
	}
	for _, v := range []struct {
		field, what string
		value       float64
	}{{"read_after_s", "a reading second", o.ReadAfterS}, {"load_ohm", "a load in ohm", o.LoadOhm}, {"limit_ohm", "a limit in ohm", o.LimitOhm}} {
		if !(v.value >= 0) || math.IsInf(v.value, 1) {
			return nil, problem.Invalidf(v.field, "leave it out to write it in by hand", "%g is not %s", v.value, v.what)
		}
	}
	d := &drawing{title: "Load test by hand"}
	pen := &sheetPen{t: t, p: d.addPage(w, h), left: 15, right: w - 15, y: 18}
	if err := pen.head(d, o); err != nil {
		return nil, err
	}
	pen.cautions()
	pen.setup(o)
	pen.steps(o)
	pen.readings()
	pen.formula()
	pen.outcome(o)
	return d, nil
}

// head draws the title, the pack and who tests it.
func (s *sheetPen) head(d *drawing, o TestSheetOptions) error {
	t, p := s.t, s.p
	right := s.right
	var pack Pack
	if o.Pack != nil {
		packs, err := checkPacks(t, []Pack{*o.Pack})
		if err != nil {
			return err
		}
		pack = packs[0]
		if o.BaseURL != "" {
			side, err := s.packQR(d, pack.Code, o.BaseURL)
			if err != nil {
				return err
			}
			right -= side
		}
	}
	t.put(p, bold, 17, s.left, s.y, "Load test by hand")
	t.putFit(p, regular, 9, 7, s.left, s.y+5.5, right-s.left, "For when phones fail. Keep the sheet and type it in later: the app works the result out again, with its uncertainty.")
	y := s.y + 16
	x := t.put(p, regular, 9, s.left, y, "pack code ") + 1
	if pack.Code != "" {
		x = t.putCode(p, 17, x, y, pack.Code)
	} else {
		for i := range 6 {
			if i == 3 {
				x += 2.5
			}
			p.rect(box{x, y - 5.5, 6.5, 7.5}, 0.3)
			x += 6.5
		}
	}
	x += 6
	if pack.Name != "" {
		x = t.put(p, regular, 9, x, y, "name ")
		t.putFit(p, bold, 12, 8, x, y, right-x-2, pack.Name)
	} else {
		s.field(x, y, right-2, "name", "")
	}
	y += 9
	third := (right - s.left) / 3
	s.field(s.left, y, s.left+third-3, "date", "")
	s.field(s.left+third, y, s.left+2*third-3, "time", "")
	s.field(s.left+2*third, y, right-2, "initials", "")
	s.y = y + 7
	return nil
}

// packQR draws the pack’s QR in the top right corner and gives its side.
func (s *sheetPen) packQR(d *drawing, code, baseURL string) (float64, error) {
	base, err := baseAddress(baseURL)
	if err != nil {
		return 0, err
	}
	if note := shortLived(base); note != "" {
		d.notes = append(d.notes, note)
	}
	qr, err := newQR(payloadOf(base, code), "Q")
	if err != nil {
		return 0, err
	}
	const sideMM = 33.0
	for dots := maxDots; dots >= minDots; dots-- {
		if side := qr.sideMM(dots); side <= sideMM {
			module := float64(dots) * dotMM
			// The quiet zone lies in the margin: the black squares line up with the text.
			s.p.add(symbol{box{s.right - side + quietModules*module, 13 - quietModules*module, side, side}, module, qr})
			return side - quietModules*module, nil
		}
	}
	return 0, problem.Invalidf("base_url", "use a shorter address", "the address is too long for a QR that scans")
}

func (s *sheetPen) cautions() {
	const sizePT, step = 9.0, 4.7
	height := 8.5 + step*float64(len(testCautions))
	s.p.rect(box{s.left, s.y, s.right - s.left, height}, 0.6)
	s.t.put(s.p, bold, 10, s.left+3, s.y+5.5, "Take care")
	y := s.y + 10.7
	for _, c := range testCautions {
		s.t.put(s.p, regular, sizePT, s.left+3, y, "–")
		s.t.putFit(s.p, regular, sizePT, 7, s.left+6.5, y, s.right-s.left-9, c)
		y += step
	}
	s.y += height + 4
}

// setup draws what the test is done with.
func (s *sheetPen) setup(o TestSheetOptions) {
	s.heading("With what")
	middle := (s.left + s.right) / 2
	y := s.y
	x := s.t.put(s.p, regular, 9, s.left, y, "meter accuracy ± (")
	s.field(x, y, x+16, "", "%")
	x = s.t.put(s.p, regular, 9, x+16, y, " + ")
	s.field(x, y, middle-6, "", "counts )")
	s.field(middle, y, s.right, "one count of the display is", "V")
	y += 8
	s.known(s.left, y, s.left+46, "load R_L =", o.LoadOhm, "Ω")
	s.field(s.left+50, y, middle-6, "tolerance ±", "%")
	s.field(middle, y, s.right, "leads of the load, if not in R_L: r_w =", "Ω")
	y += 8
	s.field(s.left, y, s.left+50, "current V0 / R_L =", "A")
	s.field(s.left+54, y, middle-6, "fuse", "A")
	s.field(middle, y, middle+46, "power V0² / R_L =", "W")
	s.field(middle+50, y, s.right, "rating", "W")
	y += 4.5
	s.t.put(s.p, regular, 8, s.left, y,
		"The current stays below the fuse, and the power below the resistor’s rating: without its heat sink it stands much less.")
	y += 8
	s.known(s.left, y, middle-6, "V1 is read this long after connecting:", o.ReadAfterS, "s")
	s.field(middle, y, middle+40, "pack is at", "°C")
	s.field(middle+44, y, s.right, "rested", "min")
	y += 8
	x = s.t.put(s.p, regular, 9, s.left, y, "charge ")
	s.ticks(x+1, y, "full", "partial", "not known")
	s.y = y + 6
}

// steps draws what to do, in order.
func (s *sheetPen) steps(o TestSheetOptions) {
	at := "the chosen second"
	if o.ReadAfterS > 0 {
		at = number(o.ReadAfterS) + " s"
	}
	s.heading("What to do")
	for i, step := range []string{
		"Look the pack over and feel it. Charged, rested an hour or more, at room temperature, nothing damaged: go on.",
		"Put the meter across the pack’s terminals, with no load on. Write V0. Under 11 V: recharge the pack, do not test it.",
		"Connect the load and start the watch at that moment. At " + at + ", still on load, read V1.",
		"Disconnect the load at once. Write V1. Touch neither the load nor bare leads.",
		"Wait until the load has cooled and the meter stands still again. Do it three times, the same way each time.",
	} {
		s.t.put(s.p, bold, 9.5, s.left, s.y, strconv.Itoa(i+1))
		s.y = s.t.paragraph(s.p, regular, 9.5, s.left+6, s.y, s.right-s.left-6, step) + 5.4
	}
	s.y -= 1.4
}

// readings draws the table for three repeats.
func (s *sheetPen) readings() {
	const wordsMM = 62.0
	rowMM := 8.3 + (s.p.h-11*mmPerInch)/8 // longer paper, higher rows
	rows := []struct{ words, unit string }{
		{"V0  open, no load", "V"}, {"V1  on load", "V"}, {"V0 / V1", ""}, {"R  resistance", "Ω"},
	}
	x0 := s.left + wordsMM
	w := (s.right - x0) / 3
	top := s.y + 5
	for i := range 3 {
		s.t.put(s.p, bold, 9, x0+float64(i)*w+2, top-1.5, fmt.Sprintf("reading %d", i+1))
	}
	for i, r := range rows {
		y := top + float64(i)*rowMM
		f := regular
		if i == 0 || i == 1 {
			f = bold
		}
		s.t.put(s.p, f, 10, s.left+2, y+rowMM/2+1.5, r.words)
		for j := range 3 {
			s.t.putRight(s.p, regular, 8, x0+float64(j+1)*w-1.5, y+rowMM-1.8, r.unit)
		}
		if i > 0 {
			s.p.line(s.left, y, s.right, y, 0.2)
		}
	}
	bottom := top + rowMM*float64(len(rows))
	for i := range 3 {
		s.p.line(x0+float64(i)*w, top, x0+float64(i)*w, bottom, 0.2)
	}
	s.p.rect(box{s.left, top, s.right - s.left, bottom - top}, 0.5)
	s.y = bottom + 3
}

// workedExample is the sum shown on the sheet: R_L = 10 Ω, no lead.
const (
	exampleOpenV   = 12.84
	exampleLoadedV = 12.71
	exampleLoadOhm = 10.0
	exampleCountV  = 0.01
)

// formula draws how R is worked out, with an example.
func (s *sheetPen) formula() {
	s.heading("Work it out")
	s.t.put(s.p, bold, 12, s.left, s.y+0.5, "R = (R_L + r_w) × (V0 / V1 − 1)")
	s.t.put(s.p, regular, 9, s.left+78, s.y+0.5, fmt.Sprintf("For example: (%g + 0) Ω × (%.2f / %.2f − 1) = %.3f Ω",
		exampleLoadOhm, exampleOpenV, exampleLoadedV, exampleLoadOhm*(exampleOpenV/exampleLoadedV-1)))
	s.y = s.t.paragraph(s.p, regular, 9, s.left, s.y+6, s.right-s.left,
		fmt.Sprintf("Keep five decimals of V0 / V1. In the example one count of the meter (%.2f V) moves R by %.0f %%, "+
			"and a resistor of ± 5 %% by 5 %% more: three readings that agree are not the whole truth.",
			exampleCountV, 100*exampleCountV/(exampleOpenV-exampleLoadedV))) + 5
}

// outcome draws the fields of the result.
func (s *sheetPen) outcome(o TestSheetOptions) {
	middle := (s.left + s.right) / 2
	y := s.y + 4
	s.field(s.left, y, middle-6, "mean of the three R =", "Ω")
	s.known(middle, y, s.right, "limit for competition", o.LimitOhm, "Ω")
	y += 8
	x := s.t.put(s.p, regular, 9, s.left, y, "for now ")
	s.ticks(x+1, y, "clearly below: competition", "clearly above: practice", "near: retest")
	y += 8
	s.ticks(s.left, y, "set aside, because")
	s.field(s.left+38, y, s.right, "", "")
	y += 8
	s.field(s.left, y, s.right-62, "notes", "")
	s.ticks(s.right-58, y, "typed in by")
	s.field(s.right-29, y, s.right, "", "")
	s.y = y
}
