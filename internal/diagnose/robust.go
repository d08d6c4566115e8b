package diagnose

import (
	"math"
	"slices"
)

// Constants of robust scatter for normal data: a standard deviation over a median
// absolute deviation, and over the median range of two (both are quantiles of the
// normal distribution: 1/Φ⁻¹(0.75), and 1/(√2·Φ⁻¹(0.75))).
const (
	perMAD   = 1.4826
	perRange = 1.0484
)

// median of a list, which it reorders; NaN of none.
func median(list []float64) float64 {
	n := len(list)
	switch {
	case n == 0:
		return math.NaN()
	case n > few:
		toPlace(list, n/2)
		upper := list[n/2]
		if n%2 == 1 {
			return upper
		}
		return (slices.Max(list[:n/2]) + upper) / 2
	}
	for i := 1; i < n; i++ {
		for k := i; k > 0 && list[k] < list[k-1]; k-- {
			list[k], list[k-1] = list[k-1], list[k]
		}
	}
	return (list[(n-1)/2] + list[n/2]) / 2
}

const few = 12 // values are put in order by insertion

// toPlace brings the value of a rank to its place, with none greater before it and
// none smaller after it (Hoare's selection).
func toPlace(list []float64, rank int) {
	low, high := 0, len(list)-1
	for low < high {
		pivot := list[(low+high)/2]
		i, j := low, high
		for i <= j {
			for list[i] < pivot {
				i++
			}
			for list[j] > pivot {
				j--
			}
			if i <= j {
				list[i], list[j] = list[j], list[i]
				i++
				j--
			}
		}
		switch {
		case rank <= j:
			high = j
		case rank >= i:
			low = i
		default:
			return
		}
	}
}

// runningMedians are the medians of the first value, the first two, and so on.
func runningMedians(y []float64) []float64 {
	sorted, medians := make([]float64, 0, len(y)), make([]float64, len(y))
	for i, v := range y {
		at, _ := slices.BinarySearch(sorted, v)
		sorted = slices.Insert(sorted, at, v)
		medians[i] = (sorted[i/2] + sorted[(i+1)/2]) / 2
	}
	return medians
}

// scatter is a robust standard deviation about the median.
func scatter(list []float64) float64 {
	centre := median(slices.Clone(list))
	off := make([]float64, len(list))
	for i, v := range list {
		off[i] = math.Abs(v - centre)
	}
	return perMAD * median(off)
}

// lowThird is the value below which a third of a list lies, which it reorders.
func lowThird(list []float64) float64 {
	slices.Sort(list)
	return list[len(list)/3]
}
