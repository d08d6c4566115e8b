package main

import (
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"text/tabwriter"
)

// What a phone may have to load, in bytes as sent. The aims are what the app
// should stay under; beyond the limits a build fails.
const (
	entryAim   = 30 << 10 // scripts of the first screen, gzip
	entryLimit = 60 << 10
	coreAim    = 950_000 // core.wasm, brotli
	coreLimit  = 1_120_000
	allAim     = 1_700_000 // everything kept for offline use, brotli
)

// size of one file, in bytes.
type size struct {
	name              string
	raw, gzip, brotli int // as sent: raw where compressing does not help
}

type sizes struct {
	files []size
	entry size // scripts of the first screen together
	core  size
	all   size // everything
}

// measure sums up what the site weighs.
func measure(s, packed site, entry entryFiles) sizes {
	first := map[string]bool{entry.script: true}
	for _, chunk := range entry.chunks {
		first[chunk] = true
	}
	total := sizes{entry: size{name: "scripts of the first screen"}, all: size{name: "all"}}
	for _, name := range s.names() {
		if path.Ext(name) == ".map" {
			continue
		}
		file := size{name, len(s[name]), smaller(packed, name+".gz", s[name]), smaller(packed, name+".br", s[name])}
		total.files = append(total.files, file)
		total.all.add(file)
		if first[name] {
			total.entry.add(file)
		}
		if strings.HasPrefix(name, "assets/core-") {
			total.core.add(file)
		}
	}
	return total
}

func smaller(packed site, name string, raw []byte) int {
	if content, ok := packed[name]; ok {
		return len(content)
	}
	return len(raw)
}

func (s *size) add(other size) {
	s.raw += other.raw
	s.gzip += other.gzip
	s.brotli += other.brotli
}

// print writes the table of sizes.
func (s sizes) print(out io.Writer) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "bytes\tgzip\tbrotli\t\t")
	row := func(f size) { fmt.Fprintf(w, "%d\t%d\t%d\t\t%s\n", f.raw, f.gzip, f.brotli, f.name) }
	for _, file := range s.files {
		row(file)
	}
	row(s.entry)
	row(s.all)
	w.Flush()
}

// compare says which aims are missed.
func (s sizes) compare(out io.Writer) {
	for _, aim := range []struct {
		what       string
		bytes, aim int
	}{
		{"core.wasm, brotli", s.core.brotli, coreAim},
		{"scripts of the first screen, gzip", s.entry.gzip, entryAim},
		{"everything, brotli", s.all.brotli, allAim},
	} {
		if aim.bytes > aim.aim {
			fmt.Fprintf(out, "above its aim: %s: %d of %d bytes\n", aim.what, aim.bytes, aim.aim)
		}
	}
}

// check says which limits are broken.
func (s sizes) check() error {
	var err error
	limit := func(what string, bytes, most int) {
		if bytes > most {
			err = errors.Join(err, fmt.Errorf("%s: %d bytes, the limit is %d", what, bytes, most))
		}
	}
	limit("core.wasm, brotli", s.core.brotli, coreLimit)
	limit("scripts of the first screen, gzip", s.entry.gzip, entryLimit)
	return err
}
