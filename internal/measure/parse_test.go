package measure

import (
	"math"
	"strings"
	"testing"

	"packwright/internal/problem"
)

func TestParse(t *testing.T) {
	cases := []struct {
		text  string
		q     Quantity
		value float64
		shown string
	}{
		{"12.84", Voltage, 12.84, "12.84 V"},
		{"12,84", Voltage, 12.84, "12.84 V"},
		{" 12,84 V ", Voltage, 12.84, "12.84 V"},
		{"12.84v", Voltage, 12.84, "12.84 V"},
		{"1280mV", Voltage, 1.28, "1.28 V"},
		{"12840 mV", Voltage, 12.84, "12.84 V"},
		{"+12.84", Voltage, 12.84, "12.84 V"},
		{"12.84\u00a0V", Voltage, 12.84, "12.84 V"},
		{".5", Voltage, 0.5, "0.5 V"},
		{"13.", Voltage, 13, "13 V"},
		{"120 mΩ", Resistance, 0.12, "0.12 Ω"},
		{"120 m\u2126", Resistance, 0.12, "0.12 Ω"}, // the ohm sign, as some keyboards have it
		{"120mohm", Resistance, 0.12, "0.12 Ω"},
		{"10 Ohm", Resistance, 10, "10 Ω"},
		{"10R", Resistance, 10, "10 Ω"},
		{"4R7", Resistance, 4.7, "4.7 Ω"},
		{"4r7", Resistance, 4.7, "4.7 Ω"},
		{"1,27 A", Current, 1.27, "1.27 A"},
		{"1270 mA", Current, 1.27, "1.27 A"},
		{"-5", Temperature, -5, "-5 °C"},
		{"\u22125", Temperature, -5, "-5 °C"},
		{"21,5 °C", Temperature, 21.5, "21.5 °C"},
		{"68 °F", Temperature, 20, "20 °C"},
		{"90", Minutes, 90, "90 min"},
		{"1.5 h", Minutes, 90, "90 min"},
		{"90 s", Minutes, 1.5, "1.5 min"},
		{"5 s", Seconds, 5, "5 s"},
		{"5%", Percent, 5, "5 %"},
		{"3000 mAh", AmpereHours, 3, "3 Ah"},
		{"30 cm", Length, 300, "300 mm"},
		{"2,5", Area, 2.5, "2.5 mm²"},
		{"1 kHz", Frequency, 1000, "1000 Hz"},
		{"3", Count, 3, "3"},
		{"50 W", Power, 50, "50 W"},
	}
	for _, c := range cases {
		p, err := Parse(c.text, c.q)
		if err != nil {
			t.Errorf("Parse(%q, %s): %v", c.text, c.q, err)
			continue
		}
		if p.Value != c.value || p.Shown != c.shown || p.Doubt != "" {
			t.Errorf("Parse(%q, %s) = %v %q %q, want %v %q and no doubt", c.text, c.q, p.Value, p.Shown, p.Doubt, c.value, c.shown)
		}
	}
}

func TestParseDoubts(t *testing.T) {
	cases := []struct {
		text  string
		q     Quantity
		doubt string
	}{
		{"12840", Voltage, "that is 12840 V: did you mean 12.84 V?"},
		{"1284", Voltage, "that is 1284 V: did you mean 12.84 V?"},
		{"128.4", Voltage, "that is 128.4 V: did you mean 12.84 V?"},
		{"0.01284", Voltage, "that is 0.01284 V: did you mean 12.84 V?"},
		{"12.84 mV", Voltage, "that is 0.01284 V: did you mean 12.84 V?"},
		{"-12.84", Voltage, "that is -12.84 V: are the probes swapped?"},
		{"0.1", Voltage, "that is 0.1 V: is that right?"},
		{"120", Resistance, "that is 120 Ω: did you mean 0.12 Ω?"},
		{"1270", Current, "that is 1270 A: did you mean 1.27 A?"},
		{"68", Temperature, "that is 68 °C: did you mean 20 °C (68 °F)?"},
		{"3000", AmpereHours, "that is 3000 Ah: did you mean 3 Ah?"},
	}
	for _, c := range cases {
		p, err := Parse(c.text, c.q)
		if err != nil || p.Doubt != c.doubt {
			t.Errorf("Parse(%q, %s): doubt %q, %v, want %q", c.text, c.q, p.Doubt, err, c.doubt)
		}
	}
}

// TestDoubtEdges: the range that is not doubted, at its ends and one float
// beyond.
func TestDoubtEdges(t *testing.T) {
	ends := map[Quantity][2]float64{Voltage: {0.5, 60}, Resistance: {0.001, 110}, Current: {0.02, 100}, AmpereHours: {0.1, 100}}
	for q, end := range ends {
		k, _ := kindOf(q)
		if k.doubt(end[0]) != "" || k.doubt(end[1]) != "" {
			t.Errorf("%s: %g or %g is doubted", q, end[0], end[1])
		}
		if k.doubt(math.Nextafter(end[0], 0)) == "" || k.doubt(math.Nextafter(end[1], 1e9)) == "" {
			t.Errorf("%s: beyond %g and %g there is no doubt", q, end[0], end[1])
		}
	}
	temperature, _ := kindOf(Temperature)
	if temperature.doubt(55) != "" || temperature.doubt(math.Nextafter(55, 100)) == "" {
		t.Error("temperature: the doubt does not begin above 55 °C")
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		text, wrong string
		q           Quantity
	}{
		{"", `there is no number in ""`, Voltage},
		{"volts", `there is no number in "volts"`, Voltage},
		{"12.84.1", `"12.84.1" has more than one decimal sign`, Voltage},
		{"1,284.5", `"1,284.5" has more than one decimal sign`, Voltage},
		{"12 84", `"84" is not a unit of voltage`, Voltage},
		{"12.84 A", `"A" is not a unit of voltage`, Voltage},
		{"1e3", `"e3" is not a unit of voltage`, Voltage},
		{"-", `"-" is not one number`, Voltage},
		{".", `"." is not one number`, Voltage},
		{"--5", `"--5" is not one number`, Voltage},
		{"-10", "a resistance of -10 Ω is below zero", Resistance},
		{"2.5", "2.5 is not a whole number", Count},
		{"-300", "-300 °C is below absolute zero", Temperature},
		{"1000000000000", "that number is too large", Voltage},
		{strings.Repeat("1", 41), "that is too long for a number", Voltage},
		{"1", `"charm" is not a quantity`, "charm"},
	}
	for _, c := range cases {
		_, err := Parse(c.text, c.q)
		p, ok := problem.As(err)
		if !ok || p.Text != c.wrong {
			t.Errorf("Parse(%q, %s): %v, want %q", c.text, c.q, err, c.wrong)
		}
	}
}

func TestParseList(t *testing.T) {
	cases := map[string][]float64{
		"12.84":               {12.84},
		"12.84,12.83":         {12.84, 12.83},
		"12.84, 12.83, 12.8":  {12.84, 12.83, 12.8},
		"12.84 12.83":         {12.84, 12.83},
		"12,84; 12,83":        {12.84, 12.83},
		"12,84 12,83":         {12.84, 12.83},
		"12,84, 12,83":        {12.84, 12.83},
		"12.84 V, 12.83 V":    {12.84, 12.83},
		"12.84 V 12830 mV":    {12.84, 12.83},
		"13":                  {13},
		"12.84;12.83;12.84 V": {12.84, 12.83, 12.84},
	}
	for text, want := range cases {
		got, err := ParseList(text, Voltage)
		if err != nil || len(got) != len(want) {
			t.Errorf("ParseList(%q) = %v, %v, want %v", text, got, err, want)
			continue
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("ParseList(%q) = %v, want %v", text, got, want)
			}
		}
	}
	for _, text := range []string{"", "12,84", "12.84,,12.83", "12.84,x", ";"} {
		if got, err := ParseList(text, Voltage); err == nil {
			t.Errorf("ParseList(%q) = %v, want an error", text, got)
		}
	}
}

// FuzzParse: whatever is typed, Parse answers with a finite number that reads
// back as itself from what is shown, or with a problem.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{"12.84", "12,84 V", "1280mV", "120 mΩ", "4R7", "-5", "68 °F", "1,234.5", "1e3", "", " . ", "12 84", "9999999999999", "0x10", "١٢"} {
		for i := range kinds {
			f.Add(seed, i)
		}
	}
	f.Fuzz(func(t *testing.T, text string, i int) {
		q := kinds[uint(i)%uint(len(kinds))].quantity
		p, err := Parse(text, q)
		if err != nil {
			if _, ok := problem.As(err); !ok {
				t.Fatalf("Parse(%q, %s): %v is not a problem", text, q, err)
			}
			return
		}
		if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) {
			t.Fatalf("Parse(%q, %s) = %g", text, q, p.Value)
		}
		again, err := Parse(p.Shown, q)
		if err != nil || math.Abs(again.Value-p.Value) > 1e-9*math.Abs(p.Value) {
			t.Fatalf("Parse(%q, %s) shows %q, which reads as %g, %v", text, q, p.Shown, again.Value, err)
		}
	})
}
