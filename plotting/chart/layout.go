package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// tile is a plot in the picture, and the size of its frame: 0 shares what is
// left.
type tile struct {
	plot          *plot.Plot
	width, height vg.Length
}

// A frame of a second scale has no size of its own, a key's is that of its bar,
// and over a frame with arrows lies a row for them.
const (
	hair      vg.Length = 0.01
	keyBar    vg.Length = 9
	pinHeight vg.Length = 14
)

// tiles turns the panels into plots, row by row, all rows of the same length,
// and collects what their legend shows. A second scale, a key and a row of
// arrows are tiles of their own.
func (f *Figure) tiles() (rows [][]tile, legend []plot.Legend) {
	for first := 0; first < len(f.Panels); first += f.columns {
		var above, row, under []tile
		pins, scales := false, false
		for _, p := range f.Panels[first:min(first+f.columns, len(f.Panels))] {
			for i, strip := range p.split() {
				l := strip.layers()
				if i == 0 {
					legend = append(legend, l.legend...)
				}
				row = append(row, tile{strip.plot(l), 0, p.height})
				above = append(above, tile{pinned(p), 0, pinHeight})
				under = append(under, tile{height: hair})
			}
			pins = pins || len(p.Pins) > 0
			if p.Under != nil {
				scales, under[len(under)-1].plot = true, lone(*p.Under, false)
			}
			if side := p.beside(); side.plot != nil {
				row, above, under = append(row, side), append(above, tile{}), append(under, tile{})
			}
		}
		if pins {
			rows = append(rows, above)
		}
		rows = append(rows, row)
		if scales {
			rows = append(rows, under)
		}
	}
	return rows, legend
}

// beside is the key or the second scale to the right of a panel.
func (p *Panel) beside() tile {
	switch {
	case p.Keyed != nil:
		bar := themed(Axis{Low: 0, High: 1}, *p.Keyed)
		bar.HideX()
		n := len(p.colours)
		bar.Add(within{heat(1, n, p.Keyed.span(), p.colours, func(_, row int) float64 {
			return p.Keyed.Low + p.Keyed.span().width()*(float64(row)+0.5)/float64(n)
		}, p.Keyed.span())}, framed{})
		return tile{plot: bar, width: keyBar}
	case p.Right != nil:
		return tile{plot: lone(*p.Right, true), width: hair}
	}
	return tile{}
}

// pinned is the row of numbered arrows above a panel.
func pinned(p *Panel) *plot.Plot {
	out := themed(Axis{Low: p.X.Low, High: p.X.High}, Axis{Low: 0, High: 1})
	out.HideAxes()
	arrows := &plotter.Scatter{GlyphStyle: draw.GlyphStyle{Color: rust, Radius: 2.4, Shape: edged{glyph(Down), -1.5}}}
	for _, at := range p.Pins {
		arrows.XYs = append(arrows.XYs, plotter.XY{X: at.X, Y: 0})
	}
	out.Add(within{arrows}, within{texts(numbered(p), 9)})
	return out
}

// layout draws tiles so that the frames of a row are level, and those of a
// column in line, whatever room their axes take.
func layout(c draw.Canvas, rows [][]tile) {
	columns := len(rows[0])
	left, right, width := make([]vg.Length, columns), make([]vg.Length, columns), make([]vg.Length, columns)
	foot, head, height := make([]vg.Length, len(rows)), make([]vg.Length, len(rows)), make([]vg.Length, len(rows))
	for r, row := range rows {
		for i, t := range row {
			width[i], height[r] = max(width[i], t.width), max(height[r], t.height)
			if t.plot == nil {
				continue
			}
			data := t.plot.DataCanvas(c)
			left[i], right[i] = max(left[i], data.Min.X-c.Min.X), max(right[i], c.Max.X-data.Max.X)
			foot[r], head[r] = max(foot[r], data.Min.Y-c.Min.Y), max(head[r], c.Max.Y-data.Max.Y)
		}
	}
	share(width, c.Max.X-c.Min.X-sum(left)-sum(right)-gap*vg.Length(columns-1))
	share(height, c.Max.Y-c.Min.Y-sum(foot)-sum(head)-gap*vg.Length(len(rows)-1))
	y := c.Max.Y
	for r, row := range rows {
		x := c.Min.X
		y -= head[r] + height[r]
		for i, t := range row {
			x += left[i]
			if t.plot != nil {
				frame := vg.Rectangle{Min: vg.Point{X: dot(x), Y: dot(y)}, Max: vg.Point{X: dot(x + width[i]), Y: dot(y + height[r])}}
				t.plot.Draw(around(t.plot, c, frame))
			}
			x += width[i] + right[i] + gap
		}
		y -= foot[r] + gap
	}
}

// around is the canvas in which a plot has a given frame.
func around(p *plot.Plot, c draw.Canvas, frame vg.Rectangle) draw.Canvas {
	c.Rectangle = frame
	for range 3 { // the room for labels at the ends hangs on the size
		data := p.DataCanvas(c)
		c.Min = c.Min.Add(frame.Min.Sub(data.Min))
		c.Max = c.Max.Add(frame.Max.Sub(data.Max))
	}
	return c
}

// share divides what is left of a total among the lengths that are 0.
func share(lengths []vg.Length, total vg.Length) {
	open := 0
	for _, l := range lengths {
		total -= l
		if l == 0 {
			open++
		}
	}
	for i, l := range lengths {
		if l == 0 {
			lengths[i] = total / vg.Length(open)
		}
	}
}

func sum(lengths []vg.Length) vg.Length {
	total := vg.Length(0)
	for _, l := range lengths {
		total += l
	}
	return total
}

// dot moves a length to the nearest whole dot of the picture, so that frames
// are sharp and maps fall on dots.
func dot(l vg.Length) vg.Length { return vg.Length(inDots(l)) * pixel }

// inDots is a length in whole dots of the picture.
func inDots(l vg.Length) int { return int(math.Round(float64(l / pixel))) }
