package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strconv"

	"packwright/internal/problem"
)

// formatVersion is the version of the journal file that this program writes.
const formatVersion = 1

// maxLineBytes bounds a line: the largest entry and what stands around it.
const maxLineBytes = maxEntryBytes + 2048

// digest is a SHA-256.
type digest [sha256.Size]byte

func (d digest) String() string { return hex.EncodeToString(d[:]) }

// header is the first line of a journal file.
type header struct {
	Kind   string `json:"packwright"` // "journal"
	Format int    `json:"format"`
	Epoch  string `json:"epoch"`
	MadeMS int64  `json:"made_ms"` // unix ms
	About  string `json:"about"`
}

const about = "one entry a line; sha256 is that of the line before ,\"sha256\" and prev that of the line before"

// appendHeader appends the first line of a file, with its newline.
func appendHeader(to []byte, epoch string, madeMS int64) ([]byte, digest) {
	text, err := json.Marshal(header{"journal", formatVersion, epoch, madeMS, about})
	if err != nil {
		panic(err) // strings and integers always have JSON
	}
	return sealLine(to, text[:len(text)-1])
}

// parseHeader reads a header line without its newline. The error is a
// *problem.Error only if the line is good but of a format not known here.
func parseHeader(text []byte) (header, digest, error) {
	body, sum, err := unsealLine(text)
	if err != nil {
		return header{}, digest{}, err
	}
	var h header
	if err := json.Unmarshal(append(bytes.Clone(body), '}'), &h); err != nil {
		return header{}, digest{}, err
	}
	switch {
	case h.Kind != "journal" || h.Epoch == "":
		return header{}, digest{}, errors.New("not the first line of a journal")
	case h.Format != formatVersion:
		return header{}, digest{}, problem.New(problem.Unsupported, "update packwright",
			"the journal has format %d, this program reads format %d", h.Format, formatVersion)
	}
	return h, sum, nil
}

// line is one entry's line, taken apart. Its slices share the text's memory.
type line struct {
	text       []byte // without newline
	seq        uint64
	prev, sum  digest
	receivedMS int64
	broughtBy  []byte // JSON string
	entry      []byte // canonical JSON
}

// The fixed text between the parts of a line.
const (
	beforeSeq      = `{"seq":`
	beforePrev     = `,"prev":"`
	beforeReceived = `","received_ms":`
	beforeBrought  = `,"brought_by":`
	beforeEntry    = `,"entry":`
	beforeSum      = `,"sha256":"`
	afterSum       = `"}`

	sealBytes = len(beforeSum) + 2*sha256.Size + len(afterSum)
)

var errLine = errors.New("not a line of a journal")

// appendLine appends an entry's line, with its newline, and gives its sum.
func appendLine(to []byte, seq uint64, prev digest, receivedMS int64, broughtBy string, entry []byte) ([]byte, digest) {
	brought, err := json.Marshal(broughtBy)
	if err != nil {
		panic(err) // a string always has JSON
	}
	text := make([]byte, 0, len(entry)+len(brought)+256)
	text = append(text, beforeSeq...)
	text = strconv.AppendUint(text, seq, 10)
	text = append(text, beforePrev...)
	text = hex.AppendEncode(text, prev[:])
	text = append(text, beforeReceived...)
	text = strconv.AppendInt(text, receivedMS, 10)
	text = append(text, beforeBrought...)
	text = append(text, brought...)
	text = append(text, beforeEntry...)
	text = append(text, entry...)
	return sealLine(to, text)
}

// parseLine takes a line without its newline apart and checks its sum. The
// chain is for the caller to check.
func parseLine(text []byte) (line, error) {
	body, sum, err := unsealLine(text)
	if err != nil {
		return line{}, err
	}
	l := line{text: text, sum: sum}
	p := parts{rest: body, ok: true}
	p.skip(beforeSeq)
	seq, seqErr := strconv.ParseUint(string(p.until(beforePrev)), 10, 64)
	prev := p.until(beforeReceived)
	received, receivedErr := strconv.ParseInt(string(p.until(beforeBrought)), 10, 64)
	// A quote inside a JSON string is escaped, so this cannot stand inside it.
	l.broughtBy = p.until(beforeEntry)
	l.seq, l.receivedMS, l.entry = seq, received, p.rest
	if !p.ok || seqErr != nil || receivedErr != nil || len(prev) != 2*sha256.Size {
		return line{}, errLine
	}
	if _, err := hex.Decode(l.prev[:], prev); err != nil {
		return line{}, errLine
	}
	return l, nil
}

// item gives the line as callers see it, with memory of its own.
func (l line) item() (Item, error) {
	item := Item{Seq: l.seq, Entry: bytes.Clone(l.entry), ReceivedMS: l.receivedMS}
	return item, json.Unmarshal(l.broughtBy, &item.BroughtBy)
}

// id gives the entry's id.
func (l line) id() (string, error) {
	var e struct {
		ID string `json:"id"`
	}
	err := json.Unmarshal(l.entry, &e)
	return e.ID, err
}

// sealLine appends the line that starts with body, its sum and a newline.
func sealLine(to, body []byte) ([]byte, digest) {
	sum := digest(sha256.Sum256(body))
	to = append(to, body...)
	to = append(to, beforeSum...)
	to = hex.AppendEncode(to, sum[:])
	to = append(to, afterSum...)
	return append(to, '\n'), sum
}

// unsealLine splits a line into what the sum is about and the sum, and checks it.
func unsealLine(text []byte) (body []byte, sum digest, err error) {
	at := len(text) - sealBytes
	if at < 0 || !bytes.HasPrefix(text[at:], []byte(beforeSum)) || !bytes.HasSuffix(text, []byte(afterSum)) {
		return nil, sum, errLine
	}
	body, sum = text[:at], sha256.Sum256(text[:at])
	var written [2 * sha256.Size]byte
	hex.Encode(written[:], sum[:])
	if !bytes.Equal(written[:], text[at+len(beforeSum):len(text)-len(afterSum)]) {
		return nil, sum, errors.New("the line does not match its sha256")
	}
	return body, sum, nil
}

// parts cuts text at fixed separators; ok turns false at the first that is missing.
type parts struct {
	rest []byte
	ok   bool
}

func (p *parts) skip(prefix string) {
	if rest, ok := bytes.CutPrefix(p.rest, []byte(prefix)); ok {
		p.rest = rest
		return
	}
	p.ok = false
}

func (p *parts) until(separator string) []byte {
	before, after, ok := bytes.Cut(p.rest, []byte(separator))
	p.ok = p.ok && ok
	p.rest = after
	return before
}
