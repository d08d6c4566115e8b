package journal_test

import (
	"fmt"

	"packwright/internal/journal"
)

// A phone whose clock is an hour slow answers an entry of another phone: its
// own comes after it all the same.
func ExampleClock() {
	const tenOClock, nineOClock = 1_795_600_800_000, 1_795_597_200_000
	var one, slow journal.Clock
	entry := one.Tick(tenOClock)
	slow.Receive(entry, nineOClock)
	answer := slow.Tick(nineOClock)
	fmt.Println(entry)
	fmt.Println(answer)
	// Output:
	// 1795600800000-0000
	// 1795600800000-0002
}

func ExampleReadCode() {
	for _, text := range []string{"7k3 qxx", "HTTPS://PIT.LOCAL/P/7K3QXX", "7K3QX8"} {
		code, err := journal.ReadCode(text)
		fmt.Println(code, err)
	}
	// Output:
	// 7K3QXX <nil>
	// 7K3QXX <nil>
	//  7K3QX8 is not a code: its last character, the check, does not fit the others
}

func ExampleEntry_Check() {
	e, err := journal.ParseEntry([]byte(`{"id":"01M1DZRPK005QPWS8000000001","v":1,"kind":"pack-added","pack":"7K3QXX","device":"phone-1","by":"MK","hlc":"1788249600000-0000","body":{"capacity_ah":3000}}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(e.Check())
	// Output: the capacity of 3000 Ah is out of range: 0.1 to 200 Ah
}
