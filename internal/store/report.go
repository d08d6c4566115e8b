package store

import "fmt"

// Report says what Open found and did.
type Report struct {
	Entries  uint64 // stored now
	Epoch    string
	NewEpoch bool // the epoch was made at this start

	Doubt    string // why the journal was not taken as it was; empty if it was
	BadLines []int  // line numbers, from 1, where damage began
	Salvaged int    // entries that came back from the index
	Missing  uint64 // acknowledged entries that are known to be gone
	CutBytes int    // taken out of the journal
	Aside    string // file in the data folder where those bytes are kept

	IndexRebuilt  bool // the index was made again from the journal
	IndexInMemory bool // there was no room for it on the disk
}

// Sentences says to a person what is worth telling; nothing after a clean stop.
func (r Report) Sentences() []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if r.Doubt != "" {
		say("the journal was written anew: %s", r.Doubt)
		say("%d entries are there, and phones will be asked for everything they hold", r.Entries)
	}
	if len(r.BadLines) > 0 {
		say("damaged from line %s on", someNumbers(r.BadLines))
	}
	if r.Salvaged > 0 {
		say("%d entries were brought back from the index", r.Salvaged)
	}
	if r.Missing > 0 {
		say("at least %d stored entries are missing until a phone that has them syncs", r.Missing)
	}
	switch {
	case r.CutBytes > 0 && r.Doubt == "" && r.Aside == "":
		say("%d bytes of a write that was never finished were cut off", r.CutBytes)
	case r.CutBytes > 0 && r.Doubt == "":
		say("%d bytes of a write that was never finished were cut off and kept in %s", r.CutBytes, r.Aside)
	case r.CutBytes > 0:
		say("%d bytes that could not be used are kept in %s", r.CutBytes, r.Aside)
	}
	if r.IndexInMemory {
		say("the disk is almost full: the index is kept in memory; free some space soon")
	} else if r.IndexRebuilt {
		say("the index was made again from the journal")
	}
	return out
}

// someNumbers lists the first few.
func someNumbers(all []int) string {
	text := ""
	for i, n := range all {
		if i == 5 {
			return fmt.Sprintf("%s and %d more", text, len(all)-i)
		}
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprint(n)
	}
	return text
}
