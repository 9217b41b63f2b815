package chart

import (
	"image/color"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Sizes of letters, in points.
const (
	titleSize vg.Length = 11
	textSize  vg.Length = 8
	smallSize vg.Length = 7.5
)

// The inks, from dark to light. In grey they keep their order.
var (
	ink    = color.RGBA{0x1b, 0x22, 0x2c, 0xff} // text and frames
	dark   = color.RGBA{0x12, 0x3f, 0x5c, 0xff} // the curve that counts
	rust   = color.RGBA{0xa8, 0x4a, 0x14, 0xff} // the second curve
	muted  = color.RGBA{0x5d, 0x66, 0x70, 0xff} // text that explains
	middle = color.RGBA{0x7f, 0x9f, 0xb5, 0xff} // single windows
	sand   = color.RGBA{0xec, 0xc9, 0xa4, 0xff} // errors of the second curve
	pale   = color.RGBA{0xc6, 0xd8, 0xe3, 0xff} // errors of the curve
	rule   = color.RGBA{0xd9, 0xdc, 0xdf, 0xff} // grid
	wash   = color.RGBA{0xf6, 0xee, 0xd8, 0xff} // stable band
	shade  = color.RGBA{0xf1, 0xf2, 0xf4, 0xff} // every other tooth
	yellow = color.RGBA{0xff, 0xe2, 0x3d, 0xff} // a line across the map
	grey   = color.RGBA{0xe6, 0xe7, 0xe9, 0xff} // standstill
)

// face is a sans-serif font of the given size.
func face(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// letters is a style of text. The handler is our own, so that a change of the
// library's default doesn't change our charts.
func letters(size vg.Length, ink color.Color, x text.XAlignment, y text.YAlignment) draw.TextStyle {
	return draw.TextStyle{
		Color: ink, Font: face(size), XAlign: x, YAlign: y,
		Handler: text.Plain{Fonts: font.DefaultCache},
	}
}

// bold makes a style bold.
func bold(s draw.TextStyle) draw.TextStyle {
	s.Font.Weight = stdfont.WeightBold
	return s
}

// stroke is a solid line.
func stroke(ink color.Color, width vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: ink, Width: width}
}
