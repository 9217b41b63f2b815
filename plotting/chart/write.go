package chart

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"

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
	if err := encoder.Encode(&buf, reduce(f.raster())); err != nil {
		return fmt.Errorf("chart: %w", err)
	}
	return writeWithResolution(w, buf.Bytes(), dpi)
}

// raster draws the chart into a picture.
func (f *Figure) raster() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, inDots(figureWidth), inDots(f.height)))
	ctx := gg.NewContextForRGBA(img)
	// Letters and maps are made to fall on whole dots: nothing to interpolate.
	ctx.SetInterpolator(imagedraw.NearestNeighbor)
	ctx.SetLineCapButt()
	ctx.InvertY()
	f.draw(draw.New(vgimg.NewWith(vgimg.UseImageWithContext(img, ctx), vgimg.UseDPI(dpi))))
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
