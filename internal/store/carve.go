package store

import "bytes"

// carve finds every good entry line in data, wherever it stands: call gets it
// with the place it takes up, a following newline with it.
func carve(data []byte, call func(l line, from, to int)) {
	for at := 0; ; {
		start := lineStart(data, at)
		if start < 0 {
			return
		}
		limit := lineStart(data, start+1)
		if limit < 0 {
			limit = len(data)
		}
		at = start + 1
		for end := start; ; {
			n := bytes.Index(data[end:limit], []byte(beforeSum))
			if n < 0 || end+n+sealBytes > limit {
				break
			}
			end += n + sealBytes
			if l, err := parseLine(data[start:end]); err == nil {
				if end < len(data) && data[end] == '\n' {
					end++
				}
				call(l, start, end)
				at = end
				break
			}
			end -= sealBytes - 1
		}
	}
}

// lineStart finds where the next entry line seems to start: {"seq":7,"prev":".
// That cannot stand inside an entry: a quote in a string is escaped, and the
// canonical order puts prev before seq.
func lineStart(data []byte, from int) int {
	for from < len(data) {
		n := bytes.Index(data[from:], []byte(beforeSeq))
		if n < 0 {
			return -1
		}
		digits := from + n + len(beforeSeq)
		end := digits
		for end < len(data) && data[end] >= '0' && data[end] <= '9' {
			end++
		}
		if end > digits && bytes.HasPrefix(data[end:], []byte(beforePrev)) {
			return from + n
		}
		from = digits
	}
	return -1
}
