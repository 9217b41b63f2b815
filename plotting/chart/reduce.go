package chart

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"image"
	"image/color"
	"maps"
	"math"
	"slices"
)

// reduce brings an opaque picture down to 256 colours: the most frequent ones
// that the eye tells apart, and for the rare shades along the edges of lines the
// nearest of those. A chart looks the same; writing it takes a tenth of the
// time.
func reduce(img *image.RGBA) *image.Paletted {
	counts := map[uint32]int{}
	eachRun(img, func(c uint32, first, last int) { counts[c] += last - first }, func(int) {})
	order := slices.SortedFunc(maps.Keys(counts), func(a, b uint32) int { return cmp.Or(cmp.Compare(counts[b], counts[a]), cmp.Compare(a, b)) })
	const alike = 50 // some four steps of each of red, green and blue
	out := image.NewPaletted(img.Rect, nil)
	var kept []color.RGBA
	index := make(map[uint32]uint8, len(order))
	for _, c := range order {
		at, distance := nearest(kept, shadeOf(c))
		if distance > alike && len(kept) < 256 {
			at = len(kept)
			kept, out.Palette = append(kept, shadeOf(c)), append(out.Palette, shadeOf(c))
		}
		index[c] = uint8(at)
	}
	eachRun(img, func(c uint32, first, last int) {
		i, dots := index[c], out.Pix[first:last]
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

// shadeOf is a dot as a colour.
func shadeOf(c uint32) color.RGBA {
	return color.RGBA{uint8(c), uint8(c >> 8), uint8(c >> 16), uint8(c >> 24)}
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
