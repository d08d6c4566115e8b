// Command build makes the web app from webapp/src, webapp/core and
// webapp/static: run it from the root of the repository.
//
//	go run ./webapp/build [-dev] [-out webapp/dist]
//
// The core is compiled to WebAssembly, everything else is bundled, named by the
// hash of its content, listed for offline use, and stored beside its compressed
// copies. The same sources give the same bytes. The build fails where the app
// grows beyond what a phone should have to load; see budget.go.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
)

// options of one build.
type options struct {
	root string // of the repository
	out  string // folder to fill; what it held before is removed
	dev  bool   // faster: little compression, source maps, no budget
}

func main() {
	var o options
	flag.StringVar(&o.out, "out", filepath.Join("webapp", "dist"), "folder to fill")
	flag.BoolVar(&o.dev, "dev", false, "build quickly: little compression, source maps, no size limits")
	flag.Parse()
	o.root = "."
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, o, os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "build: error:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, o options, report io.Writer) error {
	s := site{}
	if err := addFolder(s, filepath.Join(o.root, "webapp", "static")); err != nil {
		return err
	}
	if err := addIcons(s); err != nil {
		return err
	}
	if err := addDemo(s); err != nil {
		return err
	}
	coreURL, err := addCore(ctx, s, o.root)
	if err != nil {
		return err
	}
	entry, sources, err := addBundles(ctx, s, o, coreURL)
	if err != nil {
		return err
	}
	addLinks(s, entry)
	more, err := addServiceWorker(s, o)
	if err != nil {
		return err
	}
	if err := addLicences(ctx, s, o, append(sources, more...)); err != nil {
		return err
	}
	packed, err := compress(ctx, s, o.dev)
	if err != nil {
		return err
	}
	if err := write(o.out, s, packed); err != nil {
		return err
	}
	sizes := measure(s, packed, entry)
	sizes.print(report)
	if o.dev {
		return nil
	}
	sizes.compare(report)
	return sizes.check()
}
