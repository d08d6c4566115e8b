package wiring_test

import (
	"fmt"

	"packwright/internal/measure"
	"packwright/internal/wiring"
)

// An invented lead: 300 mm of 16 AWG out and back, a 20 A fuse, one plug.
func ExampleCompute() {
	size, _ := wiring.ReadSize("16 AWG")
	b, _ := wiring.Compute(wiring.Lead{
		PeakA:  20,
		Wires:  []wiring.Wire{{Name: "lead", Size: size, LengthMM: 300, Ways: 2}},
		Joints: []wiring.Joint{{Kind: wiring.BladeFuse, FuseA: 20}, {Kind: wiring.LeafContact, Count: 2}},
	})
	for _, p := range b.Parts {
		fmt.Printf("%s: %s, %s\n", p.Name, measure.ShowDigits(1000*p.ResistanceOhm, 3, "mΩ"), measure.ShowDigits(p.SagV, 2, "V"))
	}
	fmt.Println(measure.ShowInterval(1000*b.ResistanceOhm, 1000*b.ExpandedUncertaintyOhm, "mΩ"))
	// Output:
	// lead: 8.26 mΩ, 0.17 V
	// blade fuse: 4.12 mΩ, 0.083 V
	// spring contact: 1.4 mΩ, 0.028 V
	// 13.8 mΩ ± 1.7 mΩ
}
