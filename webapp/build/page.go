package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html"
	"path"
	"slices"
	"strings"
)

// addLinks puts the links to the app's files into index.html.
func addLinks(s site, entry entryFiles) {
	var links strings.Builder
	link := func(format, name string) { fmt.Fprintf(&links, format+"\n", html.EscapeString("/"+name)) }
	if entry.style != "" {
		link(`<link rel="stylesheet" href="%s">`, entry.style)
	}
	for _, chunk := range slices.Concat(entry.chunks, entry.label) {
		link(`<link rel="modulepreload" href="%s">`, chunk)
	}
	link(`<script type="module" src="%s"></script>`, entry.script)
	s["index.html"] = bytes.Replace(s["index.html"], []byte("{{links}}\n"), []byte(links.String()), 1)
}

// cached is one file to keep for offline use. Revision is null where the URL
// itself changes with the content.
type cached struct {
	URL      string  `json:"url"`
	Revision *string `json:"revision"`
}

// precache lists what a phone keeps: everything but source maps.
func precache(s site) []cached {
	var list []cached
	for _, name := range s.names() {
		switch {
		case path.Ext(name) == ".map":
		case strings.HasPrefix(name, "assets/"):
			list = append(list, cached{URL: "/" + name})
		default:
			revision := hash(s[name])
			list = append(list, cached{URL: "/" + name, Revision: &revision})
		}
	}
	return list
}

func sha256Hex(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}
