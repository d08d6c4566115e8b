// Package edge tests limits at their value and at the next float on either
// side. Only tests import it.
//
// Use this first: list a package's limits, and give them to Check.
package edge

import (
	"math"
	"testing"
)

// Limit is a bound on one number.
type Limit struct {
	Name    string
	At      float64              // the bound
	Above   bool                 // what is met by it lies above; otherwise below
	Itself  bool                 // the bound itself is met too
	Refused func(v float64) bool // whether v is met: refused, warned of, found to be over
}

// Check asks of each limit what becomes of the bound itself and of the next
// float on either side.
func Check(t *testing.T, limits []Limit) {
	t.Helper()
	for _, l := range limits {
		within, beyond := math.Nextafter(l.At, math.Inf(-1)), math.Nextafter(l.At, math.Inf(1))
		if !l.Above {
			within, beyond = beyond, within
		}
		for _, c := range []struct {
			where string
			v     float64
			want  bool
		}{{"at the limit", l.At, l.Itself}, {"a float within", within, false}, {"a float beyond", beyond, true}} {
			if got := l.Refused(c.v); got != c.want {
				t.Errorf("%s, %s (%.20g): met %t, want %t", l.Name, c.where, c.v, got, c.want)
			}
		}
	}
}

// Range is the two limits of a number that may be from low to high, both
// included.
func Range(name string, low, high float64, refused func(v float64) bool) []Limit {
	return []Limit{
		{Name: name + ", lowest", At: low, Refused: refused},
		{Name: name + ", highest", At: high, Above: true, Refused: refused},
	}
}
