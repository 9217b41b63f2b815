package chart

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"image"
	"image/color"
	"math"
	"slices"
)

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
