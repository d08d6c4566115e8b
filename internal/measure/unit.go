package measure

import "strings"

// unit is a way to write a quantity.
type unit struct {
	names string  // accepted spellings in lower case, between spaces
	times float64 // base unit = typed · times + plus …
	over  float64 // … divided by over, so that 1280 mV is 1.28 V to the last bit
	plus  float64
}

func (u unit) toBase(typed float64) float64 {
	return (float64(typed*u.times) + u.plus) / u.over
}

// kind is what Parse knows about a quantity.
type kind struct {
	quantity Quantity
	words    string // in messages
	example  string
	base     string // unit shown
	units    []unit // the base unit first
}

// kinds is never written to.
var kinds = [...]kind{
	{Voltage, "voltage", "12.84", "V", []unit{{"v volt volts", 1, 1, 0}, {"mv millivolt millivolts", 1, 1000, 0}}},
	{Resistance, "resistance", "0.12 or 120 mΩ", "Ω", []unit{{"ω ω ohm ohms r", 1, 1, 0}, {"mω mω mohm mohms milliohm milliohms", 1, 1000, 0}}},
	{Current, "current", "1.27", "A", []unit{{"a amp amps ampere amperes", 1, 1, 0}, {"ma milliamp milliamps milliampere milliamperes", 1, 1000, 0}}},
	{Power, "power", "50", "W", []unit{{"w watt watts", 1, 1, 0}, {"mw", 1, 1000, 0}, {"kw", 1000, 1, 0}}},
	{Temperature, "temperature", "21.5", "°C", []unit{{"°c c ° degc ℃", 1, 1, 0}, {"°f f degf ℉", 5, 9, -160}}},
	{Minutes, "time", "60", "min", []unit{{"min m minute minutes", 1, 1, 0}, {"h hour hours", 60, 1, 0}, {"s sec second seconds", 1, 60, 0}}},
	{Seconds, "time", "5", "s", []unit{{"s sec second seconds", 1, 1, 0}, {"min m minute minutes", 60, 1, 0}, {"ms", 1, 1000, 0}}},
	{Percent, "percentage", "5", "%", []unit{{"% percent pct", 1, 1, 0}}},
	{AmpereHours, "capacity", "3 or 3000 mAh", "Ah", []unit{{"ah", 1, 1, 0}, {"mah", 1, 1000, 0}}},
	{Length, "length", "300", "mm", []unit{{"mm", 1, 1, 0}, {"cm", 10, 1, 0}, {"m", 1000, 1, 0}}},
	{Area, "area", "2.5", "mm²", []unit{{"mm² mm2 qmm", 1, 1, 0}}},
	{Frequency, "frequency", "1000", "Hz", []unit{{"hz", 1, 1, 0}, {"khz", 1000, 1, 0}}},
	{Count, "count", "3", "", []unit{{"", 1, 1, 0}}},
}

// kindOf looks a quantity up.
func kindOf(q Quantity) (*kind, bool) {
	for i := range kinds {
		if kinds[i].quantity == q {
			return &kinds[i], true
		}
	}
	return nil, false
}

// find looks a typed suffix up; no suffix is the base unit.
func (k *kind) find(suffix string) (unit, bool) {
	if suffix == "" {
		return k.units[0], true
	}
	name := strings.ToLower(strings.ReplaceAll(suffix, " ", ""))
	for _, u := range k.units {
		for n := range strings.FieldsSeq(u.names) {
			if n == name {
				return u, true
			}
		}
	}
	return unit{}, false
}
