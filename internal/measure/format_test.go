package measure

import (
	"math"
	"testing"
)

func TestShow(t *testing.T) {
	cases := []struct{ got, want string }{
		{Show(12.84, "V"), "12.84 V"},
		{Show(10, "Ω"), "10 Ω"},
		{Show(0.1022816679, "Ω"), "0.10228 Ω"},
		{Show(1.271, "A"), "1.271 A"},
		{Show(0, "Ω"), "0 Ω"},
		{Show(-0.13, "V"), "-0.13 V"},
		{Show(123456, "J"), "123456 J"}, // digits before the point are kept
		{Show(0.0000083, "V"), "0.0000083 V"},
		{Show(2, ""), "2"},
		{Show(math.Inf(1), "s"), "+Inf s"},
		{ShowRough(0.02596, "Ω"), "0.026 Ω"},
		{ShowRough(5.136, "A"), "5.1 A"},
		{ShowRough(99.6, "W"), "100 W"},
		{ShowRough(0.0996, "Ω"), "0.1 Ω"},
		{ShowDigits(1.9599639845, 4, ""), "1.96"},
		{ShowReading(12.8, 0.01, "V"), "12.80 V"},
		{ShowReading(12.837, 0.01, "V"), "12.837 V"}, // a mean keeps its digits
		{ShowReading(12, 0.001, "V"), "12.000 V"},
		{ShowReading(12, 1, "V"), "12 V"},
		{ShowPercent(26.4), "26 %"},
		{ShowPercent(8.64), "8.6 %"},
		{ShowPercent(10), "10 %"},
		{ShowPercent(math.Nextafter(10, 0)), "10 %"},
	}
	for _, c := range cases {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestShowInterval: the uncertainty has two digits and the value ends at the
// same decimal (JCGM 100:2008 7.2.6).
func TestShowInterval(t *testing.T) {
	cases := []struct {
		value, expanded float64
		want            string
	}{
		{0.1022816679, 0.0259638, "0.102 Ω ± 0.026 Ω"},
		{0.10143, 0.0068732, "0.1014 Ω ± 0.0069 Ω"},
		{0.1, 0.00996, "0.100 Ω ± 0.010 Ω"}, // rounding up adds a digit before, and drops one behind
		{0.1, 0.00994, "0.1000 Ω ± 0.0099 Ω"},
		{0.05, 0.12, "0.05 Ω ± 0.12 Ω"},
		{150, 25, "150 Ω ± 25 Ω"},
		{1500, 250, "1500 Ω ± 250 Ω"},
		{0.1, 0, "0.1 Ω"},
		{0.1, math.NaN(), "0.1 Ω"},
		{0.1, math.Inf(1), "0.1 Ω"},
	}
	for _, c := range cases {
		if got := ShowInterval(c.value, c.expanded, "Ω"); got != c.want {
			t.Errorf("ShowInterval(%g, %g) = %q, want %q", c.value, c.expanded, got, c.want)
		}
	}
}
