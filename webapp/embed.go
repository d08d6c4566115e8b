// Package webapp embeds the built web app, so that one binary serves it.
package webapp

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Dist is the built app: every file beside its precompressed .br and .gz
// copies where those are smaller. It holds only .gitkeep until the app is built.
func Dist() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		panic(err) // the directory is embedded above
	}
	return sub
}
