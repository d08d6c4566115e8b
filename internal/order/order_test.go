package order

import (
	"cmp"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The library's own stable sort is the yardstick.
func TestStableAgainstLibrary(t *testing.T) {
	type item struct{ key, at int }
	rapid.Check(t, func(t *rapid.T) {
		keys := rapid.SliceOfN(rapid.IntRange(-3, 3), 0, 100).Draw(t, "keys")
		got := make([]item, len(keys))
		for i, key := range keys {
			got[i] = item{key, i}
		}
		want := slices.Clone(got)
		slices.SortStableFunc(want, func(a, b item) int { return cmp.Compare(a.key, b.key) })
		Stable(got, func(a, b *item) int { return cmp.Compare(a.key, b.key) })
		if !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}
