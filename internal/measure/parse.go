package measure

import (
	"math"
	"strconv"
	"strings"

	"packwright/internal/problem"
)

// Quantity names what a typed number is about. The texts are part of the API.
type Quantity string

// The quantities, each with its base unit.
const (
	Voltage     Quantity = "voltage"      // V
	Resistance  Quantity = "resistance"   // Ω
	Current     Quantity = "current"      // A
	Power       Quantity = "power"        // W
	Temperature Quantity = "temperature"  // °C
	Minutes     Quantity = "minutes"      // min
	Seconds     Quantity = "seconds"      // s
	Percent     Quantity = "percent"      // %
	AmpereHours Quantity = "ampere-hours" // Ah
	Length      Quantity = "length"       // mm
	Area        Quantity = "area"         // mm²
	Frequency   Quantity = "frequency"    // Hz
	Count       Quantity = "count"        // whole number
)

// Parsed is a typed number.
type Parsed struct {
	Value float64 // in the quantity's base unit
	Shown string  // "12.84 V"
	Doubt string  // "that is 12840 V: did you mean 12.84 V?", or empty
}

// longest is the most characters a typed number may have.
const longest = 40

// Parse reads what a person typed into a number field: digits with one decimal
// point or comma, spaces around, and the unit if they like ("12,84 V",
// "120 mΩ", "1280mV", "4R7"). Thousands separators and exponents are refused,
// because they cannot be told from a slip. A value that is possible but odd
// comes back with a Doubt.
//
// The errors are *problem.Error with an empty Field.
func Parse(text string, q Quantity) (Parsed, error) {
	k, ok := kindOf(q)
	if !ok {
		return Parsed{}, problem.Invalidf("", "", "%q is not a quantity", string(q))
	}
	example := "write it like " + k.example
	if len(text) > longest {
		return Parsed{}, problem.Invalidf("", example, "that is too long for a number")
	}
	number, suffix := split(clean(text))
	if q == Resistance {
		number, suffix = readLetterCode(number, suffix)
	}
	if number == "" {
		return Parsed{}, problem.Invalidf("", example, "there is no number in %q", text)
	}
	if strings.Count(number, ".")+strings.Count(number, ",") > 1 {
		return Parsed{}, problem.Invalidf("", example+", without thousands separators", "%q has more than one decimal sign", text)
	}
	value, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	if err != nil {
		return Parsed{}, problem.Invalidf("", example, "%q is not one number", text)
	}
	unit, ok := k.find(suffix)
	if !ok {
		return Parsed{}, problem.Invalidf("", example, "%q is not a unit of %s", suffix, k.words)
	}
	value = unit.toBase(value)
	if err := k.check(value); err != nil {
		return Parsed{}, err
	}
	return Parsed{Value: value, Shown: showAll(value, k.base), Doubt: k.doubt(value)}, nil
}

// ParseList reads several readings in one line, separated by commas (then
// with decimal points), or by semicolons or spaces (then with either decimal
// sign). "12,84" could be one number or two, and is refused.
func ParseList(text string, q Quantity) ([]float64, error) {
	separated := clean(text)
	var parts []string
	switch {
	case strings.Contains(separated, ";"):
		parts = strings.Split(separated, ";")
	case strings.Contains(separated, ",") && strings.Contains(separated, "."):
		parts = strings.Split(separated, ",")
	case strings.Contains(separated, ",") && !strings.Contains(separated, " "):
		return nil, problem.Invalidf("", "use points as decimal signs and commas between readings: 12.84,12.83",
			"%q could be one number or several", text)
	default:
		parts = joinUnits(strings.Fields(separated))
	}
	values := make([]float64, 0, len(parts))
	for _, part := range parts {
		p, err := Parse(strings.TrimSuffix(part, ","), q)
		if err != nil {
			return nil, err
		}
		values = append(values, p.Value)
	}
	if len(values) == 0 {
		return nil, problem.Invalidf("", "", "there is no number in %q", text)
	}
	return values, nil
}

// joinUnits puts a unit that stands alone back to the number before it.
func joinUnits(words []string) []string {
	var parts []string
	for _, w := range words {
		if number, _ := split(w); number == "" && len(parts) > 0 {
			parts[len(parts)-1] += " " + w
			continue
		}
		parts = append(parts, w)
	}
	return parts
}

// clean takes away what phones and paste add: outer spaces, spaces that do not
// break, and the many signs for minus.
func clean(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch r {
		case '\u00a0', '\u202f', '\u2009':
			return ' '
		case '\u2212', '\u2013':
			return '-'
		}
		return r
	}, text))
}

// split parts the leading number from the unit behind it.
func split(text string) (number, suffix string) {
	end := len(text)
	for i, r := range text {
		digit := r >= '0' && r <= '9' || r == '.' || r == ','
		if !digit && !(i == 0 && (r == '-' || r == '+')) {
			end = i
			break
		}
	}
	return text[:end], strings.TrimSpace(text[end:])
}

// readLetterCode reads R as a decimal sign, as resistors are marked: 4R7 is
// 4.7 Ω (IEC 60062, from memory).
func readLetterCode(number, suffix string) (string, string) {
	decimals, found := strings.CutPrefix(strings.ToUpper(suffix), "R")
	if !found || decimals == "" || strings.ContainsAny(number, ".,") || strings.Trim(decimals, "0123456789") != "" {
		return number, suffix
	}
	return number + "." + decimals, ""
}

// check refuses what no such quantity can be.
func (k *kind) check(value float64) error {
	q := k.quantity
	switch {
	case math.IsInf(value, 0) || math.Abs(value) >= 1e12:
		return problem.Invalidf("", "write it like "+k.example, "that number is too large")
	case q == Count && value != math.Trunc(value):
		return problem.Invalidf("", "write a whole number", "%s is not a whole number", Show(value, ""))
	case value < 0 && q != Temperature && q != Voltage:
		return problem.Invalidf("", "leave out the minus sign", "a %s of %s is below zero", k.words, showAll(value, k.base))
	case q == Temperature && value < -273.15:
		return problem.Invalidf("", "write it in °C", "%s is below absolute zero", showAll(value, k.base))
	}
	return nil
}

// showAll writes every digit that was typed, up to ten.
func showAll(value float64, unit string) string {
	return withUnit(significant(value, 10), unit)
}
