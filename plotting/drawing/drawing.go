// Package drawing draws what a maker cuts, at its true size, with dimensions: as SVG to be
// printed, and as DXF R12 for a machine or a drawing program.
//
// A Drawing is prepared once (fusee.go), in millimetres, x along the axis from the large
// end and y outwards, and written by two back ends (svg.go, dxf.go). The same input gives
// the same bytes.
package drawing

import (
	"math"
)

// The layers of a drawing. The middle line has a vertex for each row of the table for the
// lathe.
const (
	MiddleLine   = "MIDDLE_LINE"
	Mirrored     = "MIDDLE_LINE_BELOW"
	GrooveBottom = "GROOVE_BOTTOM"
	ChainSection = "CHAIN"
	Axis         = "AXIS"
	Dimensions   = "DIMENSIONS"
	Notes        = "NOTES"
)

// layers are all of them, with how each is drawn: the width of its lines in mm, whether
// they are dashed with dots, and the colour's number in a DXF file.
var layers = []struct {
	name   string
	width  float64
	dotted bool
	colour int
}{
	{GrooveBottom, 0.25, false, 7},
	{ChainSection, 0.1, false, 8},
	{MiddleLine, 0.18, false, 1},
	{Mirrored, 0.18, false, 1},
	{Axis, 0.13, true, 4},
	{Dimensions, 0.13, false, 3},
	{Notes, 0.25, false, 7},
}

// Drawing is a drawing at its true size, in millimetres.
type Drawing struct {
	lines    []line
	texts    []text
	inches   bool // the DXF file is in inches
	lo, hi   vertex
	decimals int // of a coordinate in the DXF file
}

type vertex struct{ x, y float64 }

// line is a polyline, or a filled triangle.
type line struct {
	layer  string
	points []vertex
	closed bool
	filled bool
}

// text is one line of letters; at is its foot at the left, the middle or the right.
type text struct {
	layer  string
	at     vertex
	height float64 // of the capitals
	anchor string  // as SVG has it: "start", "middle", "end"
	turned bool    // reads upwards
	text   string
}

func (d *Drawing) add(l line) {
	for _, p := range l.points {
		d.reach(p)
	}
	d.lines = append(d.lines, l)
}

func (d *Drawing) reach(p vertex) {
	if len(d.lines)+len(d.texts) == 0 {
		d.lo, d.hi = p, p
	}
	d.lo = vertex{min(d.lo.x, p.x), min(d.lo.y, p.y)}
	d.hi = vertex{max(d.hi.x, p.x), max(d.hi.y, p.y)}
}

// perLetter is about how wide a letter is for its height.
const perLetter = 0.75

func (d *Drawing) write(t text) {
	width := perLetter * t.height * float64(len([]rune(t.text)))
	left := map[string]float64{"start": 0, "middle": width / 2, "end": width}[t.anchor]
	if t.turned {
		d.reach(vertex{t.at.x - t.height, t.at.y - left})
		d.reach(vertex{t.at.x, t.at.y - left + width})
	} else {
		d.reach(vertex{t.at.x - left, t.at.y})
		d.reach(vertex{t.at.x - left + width, t.at.y + t.height})
	}
	d.texts = append(d.texts, t)
}

const (
	textHeight = 2.2 // mm
	arrowLong  = 2.0
	arrowWide  = 0.7
)

// dimension draws a line with arrows between two places, which lie along x or along y,
// with thin lines from what is measured, and its text.
func (d *Drawing) dimension(a, b, fromA, fromB vertex, says string) {
	for _, thin := range [][]vertex{{fromA, a}, {fromB, b}} {
		if thin[0] != thin[1] {
			d.add(line{layer: Dimensions, points: thin})
		}
	}
	length := math.Hypot(b.x-a.x, b.y-a.y)
	along := vertex{(b.x - a.x) / length, (b.y - a.y) / length}
	out := 1.0 // arrows point outwards; from without where there is no room
	if length < 3*arrowLong {
		out = -1
		a2 := vertex{a.x - 2*arrowLong*along.x, a.y - 2*arrowLong*along.y}
		b2 := vertex{b.x + 2*arrowLong*along.x, b.y + 2*arrowLong*along.y}
		d.add(line{layer: Dimensions, points: []vertex{a2, b2}})
	} else {
		d.add(line{layer: Dimensions, points: []vertex{a, b}})
	}
	for _, end := range []struct {
		at   vertex
		sign float64
	}{{a, out}, {b, -out}} {
		foot := vertex{end.at.x + end.sign*arrowLong*along.x, end.at.y + end.sign*arrowLong*along.y}
		side := vertex{-along.y * arrowWide / 2, along.x * arrowWide / 2}
		d.add(line{layer: Dimensions, closed: true, filled: true, points: []vertex{end.at, {foot.x + side.x, foot.y + side.y}, {foot.x - side.x, foot.y - side.y}}})
	}
	middle := vertex{(a.x + b.x) / 2, (a.y + b.y) / 2}
	if along.x != 0 {
		d.write(text{Dimensions, vertex{middle.x, middle.y + 0.8}, textHeight, "middle", false, says})
	} else {
		d.write(text{Dimensions, vertex{middle.x - 0.8, middle.y}, textHeight, "middle", true, says})
	}
}
