package sheet

import (
	"encoding/json"

	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

// Field is what a column of a table of old tests may hold. The texts are part of the API.
type Field string

// The fields.
const (
	Skip        Field = ""            // not used
	PackCode    Field = "pack"        // code or name of a pack
	TestDate    Field = "date"        // date, or date and time
	OpenVolts   Field = "open_v"      //
	LoadedVolts Field = "loaded_v"    //
	LoadOhms    Field = "load_ohm"    //
	Resistance  Field = "resistance"  // of an instrument, or worked out by somebody
	Temperature Field = "temperature" //
	ChargeState Field = "charge"      //
	RestedMin   Field = "rested_min"  //
	WhoTested   Field = "by"          //
	Remark      Field = "note"        //
	TestTime    Field = "time"        // of day, where the date has none
	MethodUsed  Field = "method"      // the rest is of tables that this program wrote
)

// Column is a column of the table and what it is taken for.
type Column struct {
	Name  string `json:"name"`
	Field Field  `json:"field"`
	Unit  string `json:"unit"`  // "V", "mV", "Ω", "mΩ", "°C", "°F", "min", "h", or empty
	Doubt string `json:"doubt"` // what was guessed and should be looked at, or empty
}

// Plan says how a table is read. Look proposes one; a person corrects it. What
// is left empty is proposed anew, HeadRows together with Columns.
type Plan struct {
	Delimiter string   `json:"delimiter"`  // "," ";" or a tab
	Decimal   string   `json:"decimal"`    // "." or ","
	DateOrder string   `json:"date_order"` // "ymd", "dmy" or "mdy"
	HeadRows  int      `json:"head_rows"`  // lines above the first test
	Columns   []Column `json:"columns"`
	LoadOhm   float64  `json:"load_ohm"` // of all rows, where no column has it; 0 not given
	Method    string   `json:"method"`   // of a resistance column: "direct-dc" or "direct-ac"
	Pack      string   `json:"pack"`     // code or name for all rows, where no column has it
}

// Known is a pack that rows may be about.
type Known struct {
	Code, Name string
	Cells      int    // in series; 0: the usual number
	Tests      []Test // that count, to mark what is there already
}

// Test is one test as a table of tests has it. Exactly one of its two records
// is there.
type Test struct {
	Code, Name string // of the pack
	AtMS       int64  // unix ms
	By         string
	Test       *loadtest.Test
	Direct     *loadtest.Direct
	Result     *loadtest.Result // nil where it cannot be worked out
	Outcome    string           // see judge.Outcome; of this test
}

// Made is one row of the table with the entry that it becomes.
type Made struct {
	Line    int             `json:"line"` // in the file, from 1
	Pack    string          `json:"pack"` // code
	Kind    journal.Kind    `json:"kind"`
	Body    json.RawMessage `json:"body"`
	AtMS    int64           `json:"at_ms"`
	By      string          `json:"by"`
	Shown   string          `json:"shown"`   // what it says, in a line
	Problem string          `json:"problem"` // why no entry can be made of it; the others are not touched
	Hint    string          `json:"hint"`
	Again   bool            `json:"again"` // there is such a test already
}

// Preview is a table as it would be read.
type Preview struct {
	Plan   Plan     `json:"plan"`
	Rows   []Made   `json:"rows"`
	Good   int      `json:"good"`
	Bad    int      `json:"bad"`
	Again  int      `json:"again"`
	Doubts []string `json:"doubts"`
}
