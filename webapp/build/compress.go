package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"path"
	"runtime"

	"github.com/andybalholm/brotli"
	"golang.org/x/sync/errgroup"
)

// compress makes a .br and a .gz copy of every file that gets smaller by it.
// The server only sends them: it never compresses the app itself.
func compress(ctx context.Context, s site, dev bool) (site, error) {
	brotliLevel, gzipLevel := brotli.BestCompression, gzip.BestCompression
	if dev {
		brotliLevel, gzipLevel = 3, gzip.BestSpeed
	}
	forms := map[string]func(io.Writer) (io.WriteCloser, error){
		".br": func(w io.Writer) (io.WriteCloser, error) { return brotli.NewWriterLevel(w, brotliLevel), nil },
		".gz": func(w io.Writer) (io.WriteCloser, error) { return gzip.NewWriterLevel(w, gzipLevel) },
	}
	type packed struct {
		name    string
		content []byte
	}
	made := make(chan packed, len(forms)*len(s))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(runtime.NumCPU())
	for _, name := range s.names() {
		if compressed[path.Ext(name)] {
			continue
		}
		for ext, form := range forms {
			group.Go(func() error {
				var out bytes.Buffer
				w, err := form(&out)
				if err != nil {
					return err
				}
				if _, err := w.Write(s[name]); err != nil {
					return err
				}
				if err := w.Close(); err != nil {
					return err
				}
				if out.Len() < len(s[name]) {
					made <- packed{name + ext, out.Bytes()}
				}
				return ctx.Err()
			})
		}
	}
	if err := group.Wait(); err != nil {
		return nil, fmt.Errorf("compress: %w", err)
	}
	close(made)
	all := site{}
	for p := range made {
		all[p.name] = p.content
	}
	return all, nil
}

// compressed are formats that hold compressed data already.
var compressed = map[string]bool{".png": true, ".woff2": true}
