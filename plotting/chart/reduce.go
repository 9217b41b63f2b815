package chart

import (
	"bytes"
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
	s := shades{runs: make([]shadeRun, 0, 1<<16)}
	width := img.Bounds().Dx()
	above := img.Pix[:0]
	for y := range img.Bounds().Dy() {
		row := img.Pix[y*img.Stride:][:4*width]
		if bytes.Equal(row, above) {
			s.again()
		} else {
			s.row(row)
		}
		above = row
	}
	kept := frequent(s.colours, s.counts)
	index := make([]uint8, len(s.colours))
	for i, c := range s.colours {
		index[i] = nearest(kept, c)
	}
	out := image.NewPaletted(img.Bounds(), make(color.Palette, len(kept)))
	for i, c := range kept {
		out.Palette[i] = c
	}
	s.fill(out, index)
	return out
}

// shades are the dots of a picture, row by row. Most of a chart is runs of one
// colour, and rows that are like the one above.
type shades struct {
	colours []color.RGBA // in order of appearance
	counts  []int        // dots of each
	rows    []shadeRow
	runs    []shadeRun

	known map[uint32]uint32 // colours to their places
	// A table of what was met lately spares most look-ups. It holds a colour
	// and its place; a colour is never 0, since its top byte is the alpha.
	recent [1 << 12]struct{ colour, place uint32 }
}

// shadeRow is the half-open range of a row's runs. Equal rows share it.
type shadeRow struct{ first, last int }

// shadeRun is a number of dots of one colour.
type shadeRun struct{ place, length uint32 }

// row takes the next row, four bytes a dot.
func (s *shades) row(row []uint8) {
	first := len(s.runs)
	for len(row) > 0 {
		n := runLength(row)
		place := s.place(binary.LittleEndian.Uint32(row))
		s.counts[place] += n
		s.runs = append(s.runs, shadeRun{place, uint32(n)})
		row = row[4*n:]
	}
	s.rows = append(s.rows, shadeRow{first, len(s.runs)})
}

// again takes a row that is like the last one.
func (s *shades) again() {
	row := s.rows[len(s.rows)-1]
	for _, r := range s.runs[row.first:row.last] {
		s.counts[r.place] += int(r.length)
	}
	s.rows = append(s.rows, row)
}

// runLength is the number of dots at the beginning of a row that have the
// colour of the first.
func runLength(row []uint8) int {
	c := binary.LittleEndian.Uint32(row)
	two := uint64(c)<<32 | uint64(c)
	n := 4
	for n+8 <= len(row) && binary.LittleEndian.Uint64(row[n:]) == two {
		n += 8
	}
	if n+4 <= len(row) && binary.LittleEndian.Uint32(row[n:]) == c {
		n += 4
	}
	return n / 4
}

// place is the place of a colour among those known.
func (s *shades) place(c uint32) uint32 {
	r := &s.recent[c*2654435761>>20] // Fibonacci hashing
	if r.colour != c {
		n, ok := s.known[c]
		if !ok {
			n = s.add(c)
		}
		r.colour, r.place = c, n
	}
	return r.place
}

// add adds a colour.
func (s *shades) add(c uint32) uint32 {
	if s.known == nil {
		s.known = map[uint32]uint32{}
	}
	n := uint32(len(s.colours))
	s.known[c] = n
	s.colours = append(s.colours, color.RGBA{uint8(c), uint8(c >> 8), uint8(c >> 16), uint8(c >> 24)})
	s.counts = append(s.counts, 0)
	return n
}

// fill fills in the dots, index being the new place of each colour.
func (s *shades) fill(out *image.Paletted, index []uint8) {
	for y, row := range s.rows {
		dots := out.Pix[y*out.Stride:]
		if y > 0 && row == s.rows[y-1] {
			copy(dots[:out.Stride], out.Pix[(y-1)*out.Stride:])
			continue
		}
		for _, r := range s.runs[row.first:row.last] {
			i := index[r.place]
			for k := range dots[:r.length] {
				dots[k] = i
			}
			dots = dots[r.length:]
		}
	}
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
