package wiring

import (
	"math"
	"strconv"
	"strings"

	"packwright/internal/measure"
	"packwright/internal/problem"
)

// Copper after IEC 60028: 1/58 Ω·mm²/m at 20 °C, +0.393 % per kelvin of the
// value at 20 °C. IEC 60228's own factors use 0.004; the difference at 40 °C
// is 0.1 %.
const (
	resistivity = 1.0 / 58 // Ω·mm²/m
	copperPerK  = 0.00393
	referenceC  = 20.0
)

func temperatureFactor(c float64) float64 { return 1 + copperPerK*(c-referenceC) }

// Size is the size of a wire: a gauge, or an area. 0 AWG is written with a
// unit, so exactly one of the two is set: a nil gauge with an area of 0 is no
// size.
type Size struct {
	AWG     *int    `json:"awg,omitempty"`      // −3 is 4/0
	AreaMM2 float64 `json:"area_mm2,omitempty"` // mm², nominal
}

// AWG is a gauge as a size.
func AWG(n int) Size { return Size{AWG: &n} }

// DiameterMM is that of a gauge's solid wire, d = 0.127 mm · 92^((36−n)/39)
// (ASTM B258).
func DiameterMM(awg int) float64 { return 0.127 * math.Pow(92, float64(36-awg)/39) }

// Area is the area of the copper in mm².
func (s Size) Area() float64 {
	if s.AWG == nil {
		return s.AreaMM2
	}
	return math.Pi / 4 * measure.Square(DiameterMM(*s.AWG))
}

// OhmPerM is the resistance of one metre at 20 °C as wire tables give it, of
// solid copper of this area.
func (s Size) OhmPerM() float64 { return resistivity / s.Area() }

// excess is how much more a real flexible wire has. For an area it lies between
// the ideal and the greatest that IEC 60228 class 5 allows, 13 to 16 % more
// for 0.5 to 6 mm²: such wire is made to the resistance, not the area. For
// a gauge, twist and tinning add up to 5 % (from memory).
func (s Size) excess() measure.Estimate {
	most := 1.05
	if s.AWG == nil {
		switch {
		case s.AreaMM2 <= 1.1:
			most = 1.131
		case s.AreaMM2 <= 3:
			most = 1.157
		default:
			most = 1.148
		}
	}
	return measure.Rectangular((1+most)/2, (most-1)/2)
}

func (s Size) source() string {
	if s.AWG != nil {
		return "copper by IEC 60028, gauge by ASTM B258; twist and tinning 0 to 5 %, from memory"
	}
	return "copper by IEC 60028, up to the limit of IEC 60228 class 5"
}

func (s Size) formula() string {
	if s.AWG != nil {
		return "A = π/4 · (0.127 mm · 92^((36 − n) / 39))²"
	}
	return "A as marked"
}

// String writes a size: "16 AWG", "4/0 AWG", "1.5 mm²".
func (s Size) String() string {
	switch {
	case s.AWG == nil:
		return measure.Show(s.AreaMM2, "mm²")
	case *s.AWG < 0:
		return strconv.Itoa(1-*s.AWG) + "/0 AWG"
	}
	return strconv.Itoa(*s.AWG) + " AWG"
}

// Bounds on sizes of a lead.
const (
	thickestAWG, thinnestAWG = -3, 40
	leastMM2, mostMM2        = 0.005, 120.0
)

func (s Size) check(field string) error {
	const hint = "write 16 AWG or 1.5 mm²"
	switch {
	case s.AWG != nil && s.AreaMM2 != 0:
		return problem.Invalidf(field, hint, "a wire has a gauge or an area, not both")
	case s.AWG != nil && (*s.AWG < thickestAWG || *s.AWG > thinnestAWG):
		return problem.Invalidf(field, hint, "%d is not a gauge of wire", *s.AWG)
	case s.AWG == nil && !(s.AreaMM2 >= leastMM2 && s.AreaMM2 <= mostMM2):
		return problem.Invalidf(field, hint, "%s is not a size of wire", measure.Show(s.AreaMM2, "mm²"))
	}
	return nil
}

// ReadSize reads a size as people write it: "16 AWG", "AWG16", "16 ga", "2/0
// AWG", "1.5 mm²", "1,5 mm2". A bare number is refused: 16 could be either.
// Errors are *problem.Error with an empty Field.
func ReadSize(text string) (Size, error) {
	const hint = "write 16 AWG or 1.5 mm²"
	low := strings.ToLower(strings.TrimSpace(text))
	number := low
	for _, mark := range []string{"awg", "gauge", "ga"} {
		number = strings.ReplaceAll(number, mark, "")
	}
	if number != low {
		number = strings.Trim(number, " -#.")
		sign := 1
		if zeros, found := strings.CutSuffix(number, "/0"); found {
			number, sign = zeros, -1
		}
		n, err := strconv.Atoi(number)
		if err != nil || sign < 0 && n < 1 {
			return Size{}, problem.Invalidf("", hint, "%q is not a gauge of wire", text)
		}
		if sign < 0 {
			n = 1 - n
		}
		s := AWG(n)
		return s, s.check("")
	}
	p, err := measure.Parse(text, measure.Area)
	if err != nil {
		return Size{}, err
	}
	if !strings.ContainsAny(low, "mq") {
		return Size{}, problem.Invalidf("", hint, "%s could be a gauge or mm²", measure.Show(p.Value, ""))
	}
	s := Size{AreaMM2: p.Value}
	return s, s.check("")
}
