package chart

import (
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
	drawn := runs(img)
	for _, r := range drawn {
		counts[r.colour] += r.last - r.first
	}
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
	for _, r := range drawn {
		i, dots := index[r.colour], out.Pix[r.first:r.last]
		for k := range dots {
			dots[k] = i
		}
	}
	return out
}

// run is a half-open range of dots of one colour.
type run struct {
	colour      uint32
	first, last int
}

// runs divides a picture, row after row. Most of a chart is runs of one colour.
func runs(img *image.RGBA) []run {
	all := make([]run, 0, 1<<16)
	for pix := img.Pix; len(pix) > 0; {
		c := binary.LittleEndian.Uint32(pix)
		two, n := uint64(c)<<32|uint64(c), 4
		for n+8 <= len(pix) && binary.LittleEndian.Uint64(pix[n:]) == two {
			n += 8
		}
		for n+4 <= len(pix) && binary.LittleEndian.Uint32(pix[n:]) == c {
			n += 4
		}
		first := (len(img.Pix) - len(pix)) / 4
		all, pix = append(all, run{c, first, first + n/4}), pix[n:]
	}
	return all
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
