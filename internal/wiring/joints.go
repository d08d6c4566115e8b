package wiring

import "packwright/internal/measure"

// Kind is a kind of part.
type Kind string

// The kinds. Copper is for wires; the others are joints.
const (
	Copper      Kind = "copper"
	Crimp       Kind = "crimp"
	LeafContact Kind = "leaf-contact"  // flat contact with a spring behind it
	Bullet35    Kind = "bullet-3.5"    // round contact of 3.5 mm
	Bullet2     Kind = "bullet-2"      // round contact of 2 mm
	BladeTab    Kind = "blade-tab-6.3" // flat push-on tab of 6.3 mm
	SmallPin    Kind = "small-pin"     // pin and socket of a small plug
	BladeFuse   Kind = "blade-fuse"
	FuseHolder  Kind = "fuse-holder"
	Other       Kind = "other" // needs a measured value
)

// jointInfo is what is usual for a kind when new.
type jointInfo struct {
	kind       Kind
	words      string
	low, high  float64 // mΩ; of a fuse, mV at its rated current
	perFuse    bool    // low and high are divided by the rating
	fuse       bool    // counts as fuse in the sums
	published  bool
	rejectMOhm float64 // re-make above it: more than twice the new value or 3 mΩ (common practice, no source)
	source     string
}

const fromMemory = "from memory, no source at hand"

// joints is never written to. Each range is taken as rectangular.
//
// A blade fuse: data sheets give 1.44 mΩ cold and 96 mV at 40 A for a 40 A
// one, that is 58 mV per rated current cold and 96 mV hot, and 1.85 mΩ cold for
// a 30 A one, 56 mV; a small 20 A one has 3.0 to 3.3 mΩ cold and 90 to 110 mV
// at 20 A (from memory). So 55 to 110 mV over its rating holds cold and hot.
var joints = [...]jointInfo{
	{kind: Crimp, words: "crimp", low: 0.02, high: 0.5, published: true, rejectMOhm: 1, source: "tens to hundreds of microohm, a contact maker's notes"},
	{kind: LeafContact, words: "spring contact", low: 0.5, high: 0.9, rejectMOhm: 3, source: fromMemory},
	{kind: Bullet35, words: "round contact, 3.5 mm", low: 0.4, high: 0.7, published: true, rejectMOhm: 3, source: "0.55 mΩ, a maker's data sheet; the range is common practice, no source"},
	{kind: Bullet2, words: "round contact, 2 mm", low: 0.7, high: 1, rejectMOhm: 3, source: fromMemory},
	{kind: BladeTab, words: "push-on tab, 6.3 mm", low: 1, high: 2, rejectMOhm: 4, source: fromMemory},
	{kind: SmallPin, words: "small pin and socket", low: 2, high: 5, rejectMOhm: 7, source: fromMemory},
	{kind: BladeFuse, words: "blade fuse", low: 55, high: 110, perFuse: true, fuse: true, published: true, source: "1.44 mΩ cold and 96 mV at 40 A, 1.85 mΩ at 30 A, makers' data sheets, scaled by the rating"},
	{kind: FuseHolder, words: "fuse holder", low: 1, high: 3, fuse: true, rejectMOhm: 5, source: "common practice, no source"},
	{kind: Other, words: "other joint", source: "as measured"},
}

func (k Kind) info() (jointInfo, bool) {
	for _, j := range joints {
		if j.kind == k {
			return j, true
		}
	}
	return jointInfo{}, false
}

// usual is the resistance of one, in ohm.
func (j jointInfo) usual(fuseA float64) measure.Estimate {
	scale := 1000.0
	if j.perFuse {
		scale *= fuseA
	}
	return measure.Rectangular((j.low+j.high)/2/scale, (j.high-j.low)/2/scale)
}
