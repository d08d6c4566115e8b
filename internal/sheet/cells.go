package sheet

import (
	"slices"
	"strconv"
	"strings"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// value reads a number, which may carry its own unit, in the base unit of the
// field. A bare one is in the column's unit.
func value(text string, f *field, unit, decimal string) (float64, error) {
	text = strings.TrimSpace(strings.Map(func(r rune) rune {
		switch r {
		case '\u00a0', '\u202f', '\u2009':
			return ' '
		case '\u2212', '\u2013':
			return '-'
		}
		return r
	}, text))
	if other := otherSign(decimal); strings.Contains(text, other) {
		return 0, bad(f.name, "write it without thousands separators, or choose “"+other+"” as the decimal sign", quoted(text)+" has a “"+other+"”, but the decimal sign is “"+decimal+"”")
	}
	text = strings.Replace(text, ",", ".", 1)
	v, err := strconv.ParseFloat(text, 64)
	plain := err == nil && strings.Trim(text, "0123456789.eE+-") == "" // no Inf, NaN, hexadecimal
	if f.quantity == number {
		if !plain {
			return 0, bad(f.name, "write a number", quoted(text)+" is not a number")
		}
		return v, nil
	}
	if plain { // numbers with an exponent become plain ones
		text = strconv.FormatFloat(v, 'f', -1, 64) + " " + unit
	}
	if len(text) > 400 {
		text = short(text)
	}
	p, err := measure.Parse(text, f.quantity)
	if was, ok := problem.As(err); ok {
		return 0, bad(f.name, was.Hint, was.Text)
	}
	return p.Value, nil
}

func otherSign(decimal string) string {
	if decimal == "," {
		return "."
	}
	return ","
}

// digitStep is what one step of the last digit of a number is worth: 0.01 for
// 12.84, and 1 for 12840.
func digitStep(text, decimal string) float64 {
	_, decimals, _ := strings.Cut(text, decimal)
	n := 0
	for n < len(decimals) && decimals[n] >= '0' && decimals[n] <= '9' {
		n++
	}
	scale := 1.0
	for range min(n, 9) {
		scale *= 10
	}
	return 1 / scale
}

// chargeOf reads how full a pack was; a bare number is percent.
func chargeOf(text, decimal string) (charge loadtest.Charge, ok bool) {
	word := plainLetters(strings.TrimSpace(text))
	switch {
	case word == "":
		return "", true
	case slices.Contains(strings.Fields("full voll plein pleine lleno llena yes ja oui si x ok charged geladen charge cargada"), word):
		return loadtest.ChargeFull, true
	case slices.Contains(strings.Fields("partial partly half teilweise halb teilgeladen no nein non partiel medio parcial low"), word):
		return loadtest.ChargePartial, true
	case word == "unknown" || word == "?" || word == "-":
		return loadtest.ChargeUnknown, true
	}
	pct, err := strconv.ParseFloat(strings.TrimSpace(strings.Replace(strings.TrimSuffix(word, "%"), decimal, ".", 1)), 64)
	switch {
	case err != nil || !(pct >= 0 && pct <= 105):
		return loadtest.ChargeUnknown, false
	case pct >= 95:
		return loadtest.ChargeFull, true
	}
	return loadtest.ChargePartial, true
}

// initials makes what fits an entry of a tester's name, and tells whether that
// left something out.
func initials(name string) (by string, cut bool) {
	name = strings.Join(strings.Fields(name), " ")
	if len([]rune(name)) <= 8 {
		return name, false
	}
	for _, word := range strings.Fields(name) {
		by += string([]rune(word)[:1])
	}
	return string([]rune(by)[:min(8, len([]rune(by)))]), true
}

// bad is a problem of a row or a plan. A phone downloads every inlined copy.
//
//go:noinline
func bad(field Field, hint, text string) error {
	return problem.Invalidf(string(field), hint, "%s", text)
}

// quoted writes what stands in a file into a sentence, however long and odd it is.
//
//go:noinline
func quoted(text string) string { return strconv.Quote(short(text)) }

// short cuts what stands in a file to a length fit for a sentence.
func short(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}
