package chart

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"
	"sync"

	"git.sr.ht/~sbinet/gg"
	imagedraw "golang.org/x/image/draw"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// dpi is the picture's resolution in dots an inch: three dots a point.
const dpi = 216

// WritePNG draws the chart as a PNG picture of 216 dots an inch, 180 mm wide.
// The error is w's.
func (f *Figure) WritePNG(w io.Writer) error {
	var buf bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	img := f.raster()
	defer spare.Put(img)
	if err := encoder.Encode(&buf, reduce(img)); err != nil {
		return fmt.Errorf("chart: %w", err)
	}
	return writeWithResolution(w, buf.Bytes(), dpi)
}

// writeWithResolution writes an encoded PNG picture and tells how large it
// prints, which image/png leaves out: the pHYs chunk of the PNG specification
// (W3C, section 11.3.4.3), in dots a metre, after the header chunk.
func writeWithResolution(w io.Writer, picture []byte, dpi float64) error {
	const header = 8 + 4 + 4 + 13 + 4 // signature; length, name, content and sum of IHDR
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	perMetre := uint32(math.Round(dpi / 0.0254))
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1) // the unit is the metre
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	for _, part := range [][]byte{picture[:header], chunk, picture[header:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// spare holds pictures that were written, to be drawn over: they are large.
var spare sync.Pool

// blank returns a picture of a size, whatever was in it before.
func blank(size image.Rectangle) *image.RGBA {
	if img, _ := spare.Get().(*image.RGBA); img != nil && img.Rect == size {
		return img
	}
	return image.NewRGBA(size)
}

// raster draws the chart into a picture.
func (f *Figure) raster() *image.RGBA {
	img := blank(image.Rect(0, 0, inDots(figureWidth), inDots(f.height)))
	ctx := gg.NewContextForRGBA(img)
	// Letters and maps are made to fall on whole dots: nothing to interpolate.
	ctx.SetInterpolator(imagedraw.NearestNeighbor)
	ctx.SetLineCapButt()
	ctx.InvertY()
	c := vgimg.NewWith(vgimg.UseImageWithContext(img, ctx), vgimg.UseDPI(dpi))
	f.draw(draw.New(c))
	return img
}

// draw draws the figure, which fills the canvas: heading, legend and notes from
// edge to edge, the panels in what is left.
func (f *Figure) draw(c draw.Canvas) {
	c = draw.Crop(c, margin, -margin, margin, -margin)
	rows, legend := f.tiles()
	c.FillText(bold(letters(titleSize, ink, draw.XLeft, draw.YTop)), vg.Point{X: c.Min.X, Y: c.Max.Y}, f.Title)
	c.Max.Y -= titleSize + 4
	if f.Subtitle != "" {
		c.FillText(letters(textSize, muted, draw.XLeft, draw.YTop), vg.Point{X: c.Min.X, Y: c.Max.Y}, f.Subtitle)
		c.Max.Y -= lineHeight + 2
	}
	c.Max.Y = drawLegend(c, legend) - 3
	sty := letters(smallSize, muted, draw.XLeft, draw.YBottom)
	lines := f.lines()
	c.Min.Y += lineHeight * vg.Length(len(lines))
	for i, line := range lines {
		c.FillText(sty, vg.Point{X: c.Min.X, Y: c.Min.Y - lineHeight*vg.Length(i+1)}, line)
	}
	if len(lines) > 0 {
		c.Min.Y += 4
	}
	layout(c, rows)
}

// lines are the notes in lines that fit the picture.
func (f *Figure) lines() []string {
	var lines []string
	for _, n := range f.Notes {
		lines = append(lines, wrap(n, letters(smallSize, muted, draw.XLeft, draw.YBottom), textWidth)...)
	}
	return lines
}

// drawLegend draws the entries in as many lines as they need and returns the
// height where they end.
func drawLegend(c draw.Canvas, legend []plot.Legend) vg.Length {
	x, y := c.Min.X, c.Max.Y
	for _, entry := range legend {
		size := entry.Rectangle(c).Size()
		if x > c.Min.X && x+size.X > c.Max.X {
			x, y = c.Min.X, y-lineHeight-1
		}
		at := c
		at.Min.X, at.Max.Y = x, y
		entry.Draw(at)
		x += size.X + 12
	}
	if len(legend) == 0 {
		return y
	}
	return y - lineHeight
}
