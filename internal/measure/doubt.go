package measure

import "fmt"

// doubt questions a value that is possible but more likely a slip: a missing
// decimal point, milli taken for the whole, degrees Fahrenheit. The ranges are
// what a 12 V pack and its test can show (common practice, no source); outside
// them a value that fits after one usual slip is proposed.
func (k *kind) doubt(value float64) string {
	if value == 0 {
		return ""
	}
	var low, high float64 // what is not doubted
	var slips []float64   // divisors of the usual slips, likeliest first
	switch k.quantity {
	case Voltage:
		if value < 0 {
			return fmt.Sprintf("that is %s: are the probes swapped?", showAll(value, k.base))
		}
		low, high, slips = 0.5, 60, []float64{1000, 100, 10, 0.001}
	case Resistance:
		low, high, slips = 0.001, 110, []float64{1000}
	case Current:
		low, high, slips = 0.02, 100, []float64{1000, 100, 0.001}
	case AmpereHours:
		low, high, slips = 0.1, 100, []float64{1000}
	case Temperature:
		if celsius := (value - 32) / 1.8; value > 55 && celsius < 55 {
			return fmt.Sprintf("that is %s: did you mean %s (%s °F)?", showAll(value, k.base), Show(celsius, k.base), Show(value, ""))
		}
		return ""
	default:
		return ""
	}
	if value >= low && value <= high {
		return ""
	}
	for _, slip := range slips {
		if meant := value / slip; meant >= low && meant <= high && likely(meant, k.quantity) {
			return fmt.Sprintf("that is %s: did you mean %s?", showAll(value, k.base), showAll(meant, k.base))
		}
	}
	return fmt.Sprintf("that is %s: is that right?", showAll(value, k.base))
}

// likely says whether a corrected value is an everyday one.
func likely(value float64, q Quantity) bool {
	if q == Voltage {
		return value >= 5 && value <= 20
	}
	return true
}
