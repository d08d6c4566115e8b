package logged

import (
	"strings"
	"unicode"
)

// quantity is what a column may be.
type quantity int

const (
	timeQ quantity = iota
	voltQ
	ampQ
	quantities
)

// names are the words a column's head may have, in lower case between spaces;
// those of the languages that such loggers use most.
var names = [quantities]string{
	timeQ: " time elapsed timestamp datetime zeit uhrzeit temps tiempo t ",
	voltQ: " voltage spannung tension voltaje vbat vbatt u v ",
	ampQ:  " current strom courant corriente ibat ibatt i ",
}

// units are their units; what stands before the colon is what Format calls it.
var units = [quantities][]string{
	timeQ: {"ms: ms msec millisecond milliseconds millis ", "s: s sec secs second seconds ", "min: min mins minute minutes ", "h: h hr hrs hour hours "},
	voltQ: {"mV: mv millivolt millivolts ", "V: v volt volts "},
	ampQ:  {"mA: ma milliamp milliamps milliampere ", "A: a amp amps ampere amperes "},
}

// others are words of heads that look like one of these but are not.
const others = " temp temperature temperatur c f degc power leistung w watt watts kw wh ah mah mwh capacity charge energy ohm ohms mohm resistance cell soc "

// head is what a column's head says.
type head struct {
	strength [quantities]int // 0 no, 1 only a unit or letter, 2 a word
	unit     [quantities]string
}

// readHead reads "Voltage (mV)", "time_s", "I/mA".
func readHead(text string) head {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
	var h head
	for _, w := range words {
		padded := " " + w + " "
		if strings.Contains(others, padded) {
			return head{}
		}
		for q := range quantities {
			if strings.Contains(names[q], padded) {
				h.strength[q] = max(h.strength[q], min(len([]rune(w)), 2))
			}
			for _, u := range units[q] {
				name, spellings, _ := strings.Cut(u, ":")
				if strings.Contains(spellings, padded) {
					h.unit[q] = name
					h.strength[q] = max(h.strength[q], 1)
				}
			}
		}
	}
	return h
}

// columns finds each quantity's column, from 1 and 0 where there is none, with
// its unit, and whether another column could be it as well.
func columns(heads []string) (column [quantities]int, unit [quantities]string, unsure [quantities]bool) {
	var best [quantities]int
	for i, text := range heads {
		h := readHead(text)
		for q := range quantities {
			switch s := h.strength[q]; {
			case s <= h.strength[(q+1)%quantities] || s <= h.strength[(q+2)%quantities]: // it could as well be another
			case s > best[q]:
				best[q], column[q], unit[q], unsure[q] = s, i+1, h.unit[q], false
			case s == best[q]:
				unsure[q] = true
			}
		}
	}
	return column, unit, unsure
}
