package labels

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// renderPDF writes a drawing as PDF. Everything is vector, and the bytes depend
// on the drawing alone.
func renderPDF(d *drawing) (out []byte, err error) {
	defer func() {
		// The library panics on some text it cannot encode. The typesetter lets
		// none of it pass; a document is still no reason to end the server.
		if r := recover(); r != nil {
			out, err = nil, fmt.Errorf("write PDF: %v", r)
		}
	}()
	pdf := gofpdf.NewCustom(&gofpdf.InitType{UnitStr: "mm", Size: gofpdf.SizeType{Wd: 210, Ht: 297}})
	// Creation date, modification date and sorting: all three are needed for the
	// same bytes twice.
	epoch := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	pdf.SetCreationDate(epoch)
	pdf.SetModificationDate(epoch)
	pdf.SetCatalogSort(true)
	pdf.SetTitle(d.title, true)
	pdf.SetProducer("packwright", true)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetLineCapStyle("butt")
	for _, f := range faces() {
		// A copy: for a monospaced font the library writes into the bytes it is given.
		pdf.AddUTF8FontFromBytes(string(f.name), "", bytes.Clone(f.ttf))
	}
	for _, p := range d.pages {
		pdf.AddPageFormat("P", gofpdf.SizeType{Wd: p.w, Ht: p.h})
		for _, it := range p.items {
			drawItem(pdf, it)
		}
	}
	var buf bytes.Buffer
	if err := pdf.Output(&buf); err != nil {
		return nil, fmt.Errorf("write PDF: %w", err)
	}
	return withoutScaling(buf.Bytes())
}

func drawItem(pdf *gofpdf.Fpdf, it item) {
	switch it := it.(type) {
	case text:
		pdf.SetFont(string(it.face), "", it.sizePT)
		if it.spacingMM != 0 {
			pdf.RawWriteStr(fmt.Sprintf("%.3f Tc", it.spacingMM/mmPerPT))
		}
		pdf.Text(it.x, it.y, it.s)
		if it.spacingMM != 0 {
			pdf.RawWriteStr("0 Tc")
		}
	case rect:
		pdf.SetLineWidth(it.lineMM)
		style := "D"
		if it.white {
			pdf.SetFillColor(255, 255, 255)
			style = "FD"
		}
		pdf.Rect(it.x, it.y, it.w, it.h, style)
	case line:
		pdf.SetLineWidth(it.lineMM)
		pdf.Line(it.x1, it.y1, it.x2, it.y2)
	case symbol:
		drawSymbol(pdf, it)
	case shape:
		drawShape(pdf, it)
	}
}

// drawSymbol fills all black modules as one path, a rectangle for each run in a
// row: with one fill no viewer draws hairlines between the rows.
func drawSymbol(pdf *gofpdf.Fpdf, s symbol) {
	pdf.SetFillColor(0, 0, 0)
	x0, y0 := s.x+quietModules*s.moduleMM, s.y+quietModules*s.moduleMM
	for r, modules := range s.qr.rows {
		for c := 0; c < len(modules); c++ {
			if !modules[c] {
				continue
			}
			start := c
			for c < len(modules) && modules[c] {
				c++
			}
			left, right := x0+float64(start)*s.moduleMM, x0+float64(c)*s.moduleMM
			top, bottom := y0+float64(r)*s.moduleMM, y0+float64(r+1)*s.moduleMM
			pdf.MoveTo(left, top)
			pdf.LineTo(right, top)
			pdf.LineTo(right, bottom)
			pdf.LineTo(left, bottom)
			pdf.ClosePath()
		}
	}
	pdf.DrawPath("F")
}

// withoutScaling appends an incremental update (ISO 32000-1, 7.5.6) that gives
// the catalog a viewer preference the library cannot set: print without scaling
// (12.2). Viewers that do not know it print as before.
func withoutScaling(pdf []byte) ([]byte, error) {
	trailer := regexp.MustCompile(`(?s)trailer\n<<\n/Size (\d+)\n/Root (\d+) 0 R\n/Info (\d+) 0 R\n>>\nstartxref\n(\d+)\n%%EOF\n$`)
	m := trailer.FindSubmatch(pdf)
	if m == nil {
		return nil, errors.New("write PDF: the library's trailer has another form")
	}
	size, root, info, previous := m[1], m[2], m[3], m[4]
	var b bytes.Buffer
	b.Write(pdf)
	object := b.Len()
	fmt.Fprintf(&b, "%s 0 obj\n<<\n/Type /Catalog\n/Version /1.7\n/Pages 1 0 R\n/Lang (en)\n"+
		"/ViewerPreferences << /PrintScaling /None >>\n>>\nendobj\n", root)
	xref := strconv.Itoa(b.Len())
	fmt.Fprintf(&b, "xref\n%s 1\n%010d 00000 n \n", root, object)
	fmt.Fprintf(&b, "trailer\n<<\n/Size %s\n/Root %s 0 R\n/Info %s 0 R\n/Prev %s\n>>\nstartxref\n%s\n%%%%EOF\n",
		size, root, info, previous, xref)
	return b.Bytes(), nil
}
