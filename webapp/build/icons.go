package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"strings"

	"golang.org/x/image/vector"
)

// The mark of the house, an uncertainty interval with its value, in a square of
// 64 units. Polygons only, so that one description serves SVG and PNG.
var (
	ground  = color.RGBA{0x0b, 0x3c, 0x6f, 0xff}
	figure  = color.RGBA{0xf2, 0xf4, 0xee, 0xff}
	centre  = color.RGBA{0xff, 0xbc, 0x85, 0xff}
	iconBox = float32(64)
	mark    = []polygon{
		{figure, []point{{11, 20}, {15, 20}, {15, 44}, {11, 44}}},
		{figure, []point{{49, 20}, {53, 20}, {53, 44}, {49, 44}}},
		{figure, []point{{11, 30}, {53, 30}, {53, 34}, {11, 34}}},
		{centre, []point{{32, 17}, {43, 32}, {32, 47}, {21, 32}}},
	}
)

type point struct{ x, y float32 }

type polygon struct {
	fill   color.RGBA
	points []point
}

// addIcons draws the app's icon in every form a home screen asks for. The
// maskable one is smaller on its ground: systems cut its edges to their shape.
func addIcons(s site) error {
	s["icons/icon.svg"] = svg(mark)
	for _, icon := range []struct {
		name  string
		size  int
		scale float32 // of the mark on its ground
	}{
		{"icons/icon-192.png", 192, 1},
		{"icons/icon-512.png", 512, 1},
		{"icons/icon-maskable-512.png", 512, 0.78},
	} {
		var out bytes.Buffer
		enc := png.Encoder{CompressionLevel: png.BestCompression}
		if err := enc.Encode(&out, draw(mark, icon.size, icon.scale)); err != nil {
			return fmt.Errorf("draw %s: %w", icon.name, err)
		}
		s[icon.name] = out.Bytes()
	}
	return nil
}

// draw rasterises polygons on the ground, size pixels wide, scaled about the middle.
func draw(polygons []polygon, size int, scale float32) image.Image {
	canvas := image.NewRGBA(image.Rect(0, 0, size, size))
	for i := range canvas.Pix {
		canvas.Pix[i] = []uint8{ground.R, ground.G, ground.B, ground.A}[i%4]
	}
	at := func(p point) (x, y float32) {
		unit := float32(size) / iconBox
		return (iconBox/2 + (p.x-iconBox/2)*scale) * unit, (iconBox/2 + (p.y-iconBox/2)*scale) * unit
	}
	for _, poly := range polygons {
		raster := vector.NewRasterizer(size, size)
		raster.MoveTo(at(poly.points[0]))
		for _, p := range poly.points[1:] {
			raster.LineTo(at(p))
		}
		raster.ClosePath()
		raster.Draw(canvas, canvas.Bounds(), image.NewUniform(poly.fill), image.Point{})
	}
	return canvas
}

// svg writes polygons as a drawing on a ground with rounded corners.
func svg(polygons []polygon) []byte {
	var out bytes.Buffer
	hex := func(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g">`, iconBox, iconBox)
	fmt.Fprintf(&out, `<rect width="%g" height="%g" rx="12" fill="%s"/>`, iconBox, iconBox, hex(ground))
	for _, poly := range polygons {
		var points []string
		for _, p := range poly.points {
			points = append(points, fmt.Sprintf("%g,%g", p.x, p.y))
		}
		fmt.Fprintf(&out, `<polygon points="%s" fill="%s"/>`, strings.Join(points, " "), hex(poly.fill))
	}
	out.WriteString("</svg>\n")
	return out.Bytes()
}
