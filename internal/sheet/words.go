package sheet

import (
	"strings"
	"unicode"

	"packwright/internal/measure"
)

// plainLetters makes small letters without accents.
func plainLetters(text string) string {
	return strings.Map(func(r rune) rune {
		switch r = unicode.ToLower(r); r {
		case 'ä', 'à', 'á', 'â':
			return 'a'
		case 'é', 'è', 'ê':
			return 'e'
		case 'í', 'î':
			return 'i'
		case 'ö', 'ó', 'ô':
			return 'o'
		case 'ü', 'ú', 'û':
			return 'u'
		case 'ñ':
			return 'n'
		case 'ç':
			return 'c'
		}
		return r
	}, text)
}

// unitWords are the spellings of units in heads; single letters count only in
// brackets, after a slash, or as a capital at the end.
var unitWords = [...]struct {
	unit     string
	quantity measure.Quantity
	known    string
}{
	{"V", measure.Voltage, " v volt volts "},
	{"mV", measure.Voltage, " mv millivolt millivolts "},
	{"Ω", measure.Resistance, " ω ohm ohms "},
	{"mΩ", measure.Resistance, " mω mohm mohms milliohm milliohms "},
	{"A", measure.Current, " a amp amps ampere "},
	{"mA", measure.Current, " ma "},
	{"°C", measure.Temperature, " c degc celsius "},
	{"°F", measure.Temperature, " f degf fahrenheit "},
	{"min", measure.Minutes, " min mins minutes minuten "},
	{"h", measure.Minutes, " h hr hrs hour hours stunden std heures horas "},
	{"s", measure.Seconds, " s sec seconds sekunden "},
	{"%", measure.Percent, " % pct percent prozent "},
	{"Hz", measure.Frequency, " hz "},
	{"kHz", measure.Frequency, " khz "},
	{"counts", number, " counts "},
	{"ppm/K", number, " ppm/k "},
	{"K", number, " k "},
}

// unitNamed reads a unit, however it is written.
func unitNamed(text string) (unit string, q measure.Quantity, ok bool) {
	name := " " + strings.ToLower(strings.Trim(text, " °.")) + " "
	for i := range unitWords {
		if strings.Contains(unitWords[i].known, name) {
			return unitWords[i].unit, unitWords[i].quantity, true
		}
	}
	return "", "", false
}

// head is what stands over a column, in parts.
type head struct {
	words    string // small letters, one space between words
	unit     string
	quantity measure.Quantity // of the unit
}

// readHead parts words from unit: "Voltage (mV)", "R [mΩ]", "I/A", "temp °F".
func readHead(text string) head {
	var h head
	take := func(from, to int) bool {
		unit, q, ok := unitNamed(text[from:to])
		if ok {
			h.unit, h.quantity = unit, q
		}
		return ok
	}
	text = strings.TrimSpace(text)
	open := strings.LastIndexAny(text, "([")
	if end := strings.IndexAny(text[max(open, 0):], ")]"); open >= 0 && end > 0 && take(open+1, open+end) {
		text = text[:open] + " " + text[open+end+1:]
	} else if at := strings.LastIndexByte(text, '/'); at > 0 && take(at+1, len(text)) {
		text = text[:at]
	} else if at := strings.LastIndexFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == '_' }); at > 0 {
		last := []rune(strings.TrimLeft(text[at+1:], "°"))
		if (len(last) > 1 || len(last) == 1 && !unicode.IsLower(last[0])) && take(at+1, len(text)) {
			text = text[:at]
		}
	}
	h.words = strings.Join(strings.FieldsFunc(plainLetters(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
	return h
}

// others are words of heads that name something else, however they go on.
const others = " purchase purchased bought service gekauft kauf achat compra next due drop sag diff difference delta dv abfall differenz chute caida power leistung energy capacity kapazitat capacite capacidad mah ah cells zellen limit grenze uncertainty charger "

// strength says how surely a head is of a field: 0 not, ownHead as Write makes
// it, otherwise how long the words are that it was known by.
func (h head) strength(f *field) int {
	bare := strings.TrimRight(h.words, " 0123456789")
	heading := strings.ToLower(strings.ReplaceAll(f.heading, ",", ""))
	if (bare == heading || h.words == heading) && h.unit == f.unit && f.heading != "" {
		return ownHead
	}
	percentOfCharge := f.name == ChargeState && h.unit == "%"
	if h.unit != "" && h.quantity != f.quantity && !percentOfCharge {
		return 0
	}
	if h.loadResistance() {
		if f.name == LoadOhms {
			return len(h.words)
		}
		if f.quantity == measure.Resistance {
			return 0
		}
	}
	best := 0
	for _, text := range []string{h.words, bare} {
		list := strings.Fields(text)
		for i := range list {
			padded := " " + list[i] + " "
			if strings.Contains(others, padded) || f.quantity == measure.Voltage && strings.Contains(" resistance widerstand innenwiderstand resistencia ", padded) {
				return 0
			}
			for j := i + 1; j <= len(list); j++ {
				if phrase := strings.Join(list[i:j], " "); len(phrase) > best && strings.Contains(f.known, ","+phrase+",") {
					best = len(phrase)
				}
			}
		}
	}
	if f.name == PackCode { // “battery” stands in many heads
		return min(best, 1)
	}
	return best
}

const ownHead = 1000

// Words that make a head that of the load where one of each stands in it, in the four
// languages, and those that make it the pack's own resistance all the same.
const (
	loadWords       = " load last charge carga "
	resistanceWords = " resistance resistor widerstand resistencia r ohm ohms "
	packWords       = " internal innenwiderstand interne interna under on unter mit sous en bajo con pack battery akku batterie bateria time zeit "
)

// loadResistance tells “Widerstand Last” and “load resistance (Ω)” from a
// resistance of the pack, as in “resistance under load”.
func (h head) loadResistance() bool {
	load, resistance := false, h.quantity == measure.Resistance
	for _, w := range strings.Fields(h.words) {
		padded := " " + w + " "
		if strings.Contains(packWords, padded) || strings.Contains(others, padded) {
			return false
		}
		load = load || strings.Contains(loadWords, padded)
		resistance = resistance || strings.Contains(resistanceWords, padded)
	}
	return load && resistance
}

// like tells whether two heads are repeats: the same but for a number.
func (h head) like(other head) bool {
	return strings.TrimRight(h.words, " 0123456789") == strings.TrimRight(other.words, " 0123456789") && h.unit == other.unit
}
