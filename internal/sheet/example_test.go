package sheet_test

import (
	"fmt"

	"packwright/internal/sheet"
)

func ExampleLook() {
	old := "Akku;Datum;Leerlauf;Belastet;Lastwiderstand\nBlue 1;03.04.2026;12,84;12,71;10\nBlue 9;03.04.2026;12,84;12,71;10\n"
	preview, err := sheet.Look(old, []sheet.Known{{Code: "M4K2TW", Name: "Blue 1"}}, 1_795_608_000_000, nil, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, row := range preview.Rows {
		if row.Problem != "" {
			fmt.Println(row.Line, row.Problem)
			continue
		}
		fmt.Println(row.Line, row.Pack, row.Shown)
	}
	// Output:
	// 2 M4K2TW 12.84 V open, 12.71 V on load: 0.102 Ω ± 0.026 Ω
	// 3 there is no pack “Blue 9”
}

func ExampleWrite() {
	fmt.Printf("%q", sheet.Write([]string{"change (V)", "note"}, [][]string{{"-0.01", "-loose, =SUM(A1)"}}))
	// Output: "change (V),note\r\n-0.01,\"'-loose, =SUM(A1)\"\r\n"
}
