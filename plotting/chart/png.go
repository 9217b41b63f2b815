package chart

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"slices"
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

// shades are the dots of a picture by colour, those that are alike to 5, 6 and 5
// bits of red, green and blue together.
type shades [1 << 16]struct {
	dots, longest int    // in all, and in one run
	colour        uint32 // of the longest run
}

// shadeOf is the place of a dot among the shades.
func shadeOf(c uint32) uint32 { return c>>3&0x1f<<11 | c>>10&0x3f<<5 | c>>19&0x1f }

// reduce brings an opaque picture down to 256 colours: the most frequent ones
// that the eye tells apart, and for the rare shades along the edges of lines the
// nearest of those. A chart looks the same; writing it takes a tenth of the
// time.
func reduce(img *image.RGBA) *image.Paletted {
	var all shades
	eachRun(img, func(c uint32, first, last int) {
		s := &all[shadeOf(c)]
		s.dots += last - first
		if last-first > s.longest {
			s.longest, s.colour = last-first, c
		}
	}, func(int) {})
	var order []int
	for i, s := range all {
		if s.dots > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(all[b].dots, all[a].dots) })
	const alike = 50 // some four steps of each of red, green and blue
	out := image.NewPaletted(img.Rect, nil)
	var kept []color.RGBA
	var index [len(all)]uint8
	for _, i := range order {
		c := all[i].colour
		ink := color.RGBA{uint8(c), uint8(c >> 8), uint8(c >> 16), uint8(c >> 24)}
		at, distance := nearest(kept, ink)
		if distance > alike && len(kept) < 256 {
			at = len(kept)
			kept, out.Palette = append(kept, ink), append(out.Palette, ink)
		}
		index[i] = uint8(at)
	}
	eachRun(img, func(c uint32, first, last int) {
		i, dots := index[shadeOf(c)], out.Pix[first:last]
		for k := range dots {
			dots[k] = i
		}
	}, func(first int) { copy(out.Pix[first:first+out.Stride], out.Pix[first-out.Stride:]) })
	return out
}

// eachRun calls do with the half-open ranges of dots of one colour, row after
// row, and again with the first dot of a row that is like the one above. Most
// of a chart is long runs and rows that repeat.
func eachRun(img *image.RGBA, do func(c uint32, first, last int), again func(first int)) {
	for end := img.Stride; end <= len(img.Pix); end += img.Stride {
		row := img.Pix[end-img.Stride : end]
		if start := end - 2*img.Stride; start >= 0 && bytes.Equal(row, img.Pix[start:][:img.Stride]) {
			again((end - img.Stride) / 4)
			continue
		}
		for at := end - img.Stride; at < end; {
			c, n := binary.LittleEndian.Uint32(img.Pix[at:]), 4
			for two := uint64(c)<<32 | uint64(c); at+n+8 <= end && binary.LittleEndian.Uint64(img.Pix[at+n:]) == two; n += 8 {
			}
			do(c, at/4, (at+n)/4)
			at += n
		}
	}
}

// nearest is the index of the colour most like c, the first of several, and how
// unlike it is.
func nearest(colours []color.RGBA, c color.RGBA) (best, least int) {
	least = math.MaxInt
	for i, k := range colours {
		r, g, b := int(k.R)-int(c.R), int(k.G)-int(c.G), int(k.B)-int(c.B)
		if d := 2*r*r + 4*g*g + b*b; d < least { // green weighs most in what the eye sees
			best, least = i, d
		}
	}
	return best, least
}
