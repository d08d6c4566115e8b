package measure

import (
	"math"
	"strconv"
	"strings"
)

// Show writes a value with its unit to at most five significant digits,
// without trailing zeros: "1.271 A", "0.10228 Ω", "10 Ω".
func Show(value float64, unit string) string { return ShowDigits(value, 5, unit) }

// ShowRough writes a value with its unit to two significant digits, for
// estimates: "5.1 A", "0.026 Ω", "120 W".
func ShowRough(value float64, unit string) string { return ShowDigits(value, 2, unit) }

// ShowDigits writes a value with its unit to at most that many significant
// digits, without trailing zeros; digits before the point are never dropped.
func ShowDigits(value float64, digits int, unit string) string {
	return withUnit(significant(value, digits), unit)
}

// ShowReading writes a reading as its display shows it, with the decimals of
// the resolution: 12.8 read at 0.01 V is "12.80 V".
func ShowReading(value, resolution float64, unit string) string {
	text := strconv.FormatFloat(value, 'f', -1, 64)
	if want := decimals(resolution, 1); decimalsOf(text) < want {
		text = strconv.FormatFloat(value, 'f', want, 64)
	}
	return withUnit(text, unit)
}

// ShowInterval writes a value with its expanded uncertainty, the uncertainty
// to two significant digits and the value to the same decimal (JCGM 100
// 7.2.6): "0.102 Ω ± 0.012 Ω".
func ShowInterval(value, expanded float64, unit string) string {
	if !(expanded > 0) || math.IsInf(expanded, 1) {
		return Show(value, unit)
	}
	n := max(0, decimals(expanded, 2))
	v := strconv.FormatFloat(value, 'f', n, 64)
	u := strconv.FormatFloat(expanded, 'f', n, 64)
	return withUnit(v, unit) + " ± " + withUnit(u, unit)
}

// ShowPercent writes a share given in percent, whole above ten: "26 %",
// "8.6 %".
func ShowPercent(percent float64) string {
	if math.Abs(percent) < 10 {
		return ShowRough(percent, "%")
	}
	return withUnit(strconv.FormatFloat(percent, 'f', 0, 64), "%")
}

// significant writes x with at most that many significant digits, never with
// an exponent and never dropping digits before the point.
func significant(x float64, digits int) string {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	text := strconv.FormatFloat(x, 'f', max(0, decimals(x, digits)), 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// decimals is the number of decimals that show x to that many significant
// digits, after rounding: 0.0996 to two digits is 0.10, two decimals.
func decimals(x float64, digits int) int {
	rounded := strconv.FormatFloat(x, 'e', digits-1, 64)
	exponent, err := strconv.Atoi(rounded[strings.IndexByte(rounded, 'e')+1:])
	if err != nil { // ±Inf and NaN have no exponent
		return 0
	}
	return digits - 1 - exponent
}

// decimalsOf counts the decimals of a number in text.
func decimalsOf(text string) int {
	point := strings.IndexByte(text, '.')
	if point < 0 {
		return 0
	}
	return len(text) - point - 1
}

func withUnit(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}
