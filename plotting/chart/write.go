package chart

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"
	"sync"

	"git.sr.ht/~sbinet/gg"
	imagedraw "golang.org/x/image/draw"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// dpi is the picture's resolution in dots an inch: three dots a point.
const dpi = 216

// WritePNG draws the chart as a PNG picture of 216 dots an inch, which prints
// at its size in millimetres. The error is w's.
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
	f.draw(draw.New(canvas{vgimg.NewWith(vgimg.UseImageWithContext(img, ctx), vgimg.UseDPI(dpi)), img}))
	return img
}

// WriteSVG draws the chart as an SVG document. Its text is text, in Liberation
// Sans where that is installed. The error is w's.
func (f *Figure) WriteSVG(w io.Writer) error {
	c := vgsvg.New(figureWidth, f.height)
	f.draw(draw.New(c))
	_, err := c.WriteTo(w)
	return err
}
