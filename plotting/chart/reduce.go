package chart

import (
	"cmp"
	"encoding/binary"
	"image"
	"image/color"
	"slices"
)

// reduce brings an opaque picture down to 256 colours: the most frequent ones,
// and for the rare shades along the edges of lines the nearest of those. A
// chart looks the same; writing it takes a tenth of the time.
func reduce(img *image.RGBA) *image.Paletted {
	colours, counts, of := distinct(img)
	kept := frequent(colours, counts)
	index := make([]uint8, len(colours))
	for i, c := range colours {
		index[i] = nearest(kept, c)
	}
	out := image.NewPaletted(img.Bounds(), make(color.Palette, len(kept)))
	for i, c := range kept {
		out.Palette[i] = c
	}
	for i, c := range of {
		out.Pix[i] = index[c]
	}
	return out
}

// distinct lists the colours of a picture in order of appearance, how many dots
// have each, and which of them each dot has.
func distinct(img *image.RGBA) (colours []color.RGBA, counts []int, of []uint32) {
	known := map[uint32]uint32{}
	// A table of what was met lately spares most look-ups. It holds a colour
	// and its place; a colour is never 0, since its top byte is the alpha.
	var recent [1 << 12]struct{ colour, place uint32 }
	of = make([]uint32, len(img.Pix)/4)
	var last, place uint32 // of the run of equal dots that began at start
	start := 0
	for i := range of {
		c := binary.LittleEndian.Uint32(img.Pix[4*i:])
		if c != last {
			if i > 0 {
				counts[place] += i - start
			}
			r := &recent[c*2654435761>>20] // Fibonacci hashing
			if r.colour != c {
				n, ok := known[c]
				if !ok {
					n = uint32(len(colours))
					known[c] = n
					colours = append(colours, color.RGBA{uint8(c), uint8(c >> 8), uint8(c >> 16), uint8(c >> 24)})
					counts = append(counts, 0)
				}
				r.colour, r.place = c, n
			}
			last, place, start = c, r.place, i
		}
		of[i] = place
	}
	counts[place] += len(of) - start
	return colours, counts, of
}

// frequent lists the 256 colours that most dots have, the most frequent first.
func frequent(colours []color.RGBA, counts []int) []color.RGBA {
	order := make([]int, len(colours))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(counts[b], counts[a]) })
	kept := make([]color.RGBA, min(256, len(order)))
	for i := range kept {
		kept[i] = colours[order[i]]
	}
	return kept
}

// nearest is the index of the colour most like c, the first of several.
func nearest(colours []color.RGBA, c color.RGBA) uint8 {
	best, least := 0, 1<<30
	for i, k := range colours {
		r, g, b := int(k.R)-int(c.R), int(k.G)-int(c.G), int(k.B)-int(c.B)
		if d := 2*r*r + 4*g*g + b*b; d < least { // green weighs most in what the eye sees
			best, least = i, d
		}
	}
	return uint8(best)
}
