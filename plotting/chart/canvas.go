package chart

import (
	"image"
	"image/color"
	imagedraw "image/draw"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// canvas draws into a picture.
type canvas struct {
	*vgimg.Canvas
	img *image.RGBA
}

// fillBox fills a box with an opaque ink, its edges moved to whole dots. It
// spares the rasteriser, which blends each dot, the largest areas of a chart.
func (c canvas) fillBox(box vg.Rectangle, ink color.Color) {
	foot := c.img.Bounds().Dy()
	dots := image.Rect(inDots(box.Min.X), foot-inDots(box.Max.Y), inDots(box.Max.X), foot-inDots(box.Min.Y))
	imagedraw.Draw(c.img, dots, image.NewUniform(ink), image.Point{}, imagedraw.Src)
}

// pictureOf is the picture that a canvas draws into, through all canvases that
// were cut out of it; false where it is none.
func pictureOf(c vg.Canvas) (canvas, bool) {
	for {
		switch under := c.(type) {
		case draw.Canvas:
			c = under.Canvas
		case canvas:
			return under, true
		default:
			return canvas{}, false
		}
	}
}

// fillBox fills the whole of a canvas.
func fillBox(c *draw.Canvas, ink color.Color) {
	if picture, ok := pictureOf(c.Canvas); ok {
		picture.fillBox(c.Rectangle, ink)
		return
	}
	c.FillPolygon(ink, []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}})
}
