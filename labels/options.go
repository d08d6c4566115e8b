package labels

// SheetOptions says how labels are printed. The zero value with a BaseURL is
// a sheet of the first size, filled from its first label.
type SheetOptions struct {
	Size      string  // a key of Sizes; empty: the first of them
	Start     int     // first free label on the first page, counted from 1 along the rows; 0: 1
	Copies    int     // labels of each pack; 0: 1
	CutMarks  bool    // small crosses at the labels' corners, for plain paper and scissors
	Ruler     bool    // a first page to print on plain paper: rulers and the labels' outlines
	Level     string  // error correction: "Q" (about 25 %) or "H" (about 30 %); empty: "Q"
	BaseURL   string  // address the QR opens, "https://pit.local": scheme, host, port
	OffsetXMM float64 // moves everything right, millimetres, for a printer that is off
	OffsetYMM float64 // moves everything down, millimetres

	// Warn is called with a sentence for each thing the person should know:
	// characters that were replaced, an address that will not last. Where it is
	// nil, a text that cannot be printed as typed is an error.
	Warn func(text string)
}

// ChecklistOptions says what the charge checklist lists.
type ChecklistOptions struct {
	Title      string   // empty: "Charge checklist"
	Date       string   // printed as given; empty: a line to write on
	Packs      []Pack   // rows, and two empty ones where the page has room; none: twelve empty rows
	Aside      []string // packs without a row, beneath the rows of every page: "Do not charge: Rook (swollen)"
	Matches    []string // headings of the columns
	MatchCount int      // used where Matches is empty: matches 1 to MatchCount; 0: six columns without a number
	Chargers   int      // columns of the charger log; 0: 4
	Paper      string   // "A4" or "Letter"; empty: "A4"

	Warn func(text string) // as in SheetOptions
}

// TestSheetOptions says what is known before the test; everything else is left
// to write in.
type TestSheetOptions struct {
	Paper      string  // "A4" or "Letter"; empty: "A4"
	Pack       *Pack   // nil: code and name are left to write in
	BaseURL    string  // for the pack's QR; empty: no QR
	ReadAfterS float64 // second of the loaded reading; 0: left to write in
	LoadOhm    float64 // nominal load, ohm; 0: left to write in
	LimitOhm   float64 // limit for competition, ohm; 0: left to write in

	Warn func(text string) // as in SheetOptions
}
