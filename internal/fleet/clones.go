package fleet

import (
	"slices"
)

// watch looks for a device id in use on two phones, as after a phone was copied
// to another. A clock never gives one stamp twice, so two entries of one device
// with one stamp come from two clocks. Copies that never tick alike stay unseen:
// their entries look like those of one phone, and are all kept.
func (f *Fleet) watch(it *item) {
	it.sameTick = f.ticks[it.HLC]
	f.ticks[it.HLC] = it
	for other := it.sameTick; other != nil; other = other.sameTick {
		if other.Device == it.Device && !slices.Contains(f.cloned, it.Device) {
			f.cloned = append(f.cloned, it.Device)
			slices.Sort(f.cloned)
		}
	}
}
