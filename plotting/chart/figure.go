package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Measures of a figure, in points.
const (
	figureWidth  vg.Length = 510 // 180 mm
	figureHeight vg.Length = 284 // 100 mm
	margin       vg.Length = 8
	panelGap     vg.Length = 7
	textWidth              = figureWidth - 2*margin
	swatchWidth  vg.Length = 16
	swatchHeight vg.Length = 6
	swatchGap    vg.Length = 4
)

// Figure is a finished chart. It may be drawn any number of times.
type Figure struct {
	title, subtitle string
	legend          []entry
	rows            [][]*panel // all of the same length
	key             *key       // to the right of the panels; nil without
	notes           []string   // whole sentences, under the panels
	height          vg.Length
}

// entry explains one thing that is drawn.
type entry struct {
	swatch plot.Thumbnailer
	text   string
}

// newFigure returns a figure of the usual height without panels.
func newFigure(title string, h Heading) *Figure {
	return &Figure{title: title, subtitle: h.subtitle(), height: figureHeight}
}

// Title says what the chart shows, on one line of plain text.
func (f *Figure) Title() string { return f.title }

// Size is the chart's width and height in millimetres, as it prints.
func (f *Figure) Size() (width, height float64) {
	return float64(figureWidth / vg.Millimeter), float64(f.height / vg.Millimeter)
}

// explain adds an entry to the legend.
func (f *Figure) explain(swatch plot.Thumbnailer, text string) {
	text = cut(text, letters(textSize, ink, 0, 0), textWidth-swatchWidth-swatchGap)
	f.legend = append(f.legend, entry{swatch, text})
}

// note adds a sentence under the chart; an empty one adds nothing.
func (f *Figure) note(s string) {
	if s != "" {
		f.notes = append(f.notes, s)
	}
}

// draw draws the figure, which fills the canvas.
func (f *Figure) draw(c draw.Canvas) {
	c = draw.Crop(c, margin, -margin, margin, -margin)
	c.Max.Y = f.drawHeading(c)
	c.Max.Y = f.drawLegend(c)
	c.Min.Y = f.drawNotes(c)
	if f.key != nil {
		room := f.key.room()
		frames := f.drawPanels(draw.Crop(c, 0, -room, 0, 0))
		f.key.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: c.Max.X - room, Y: frames.Min.Y}, Max: vg.Point{X: c.Max.X, Y: frames.Max.Y}}})
		return
	}
	f.drawPanels(c)
}

// drawHeading draws title and subtitle and returns the height where they end.
func (f *Figure) drawHeading(c draw.Canvas) vg.Length {
	y := c.Max.Y
	c.FillText(bold(letters(titleSize, ink, draw.XLeft, draw.YTop)), vg.Point{X: c.Min.X, Y: y}, f.title)
	y -= titleSize + 4
	if f.subtitle != "" {
		c.FillText(letters(textSize, muted, draw.XLeft, draw.YTop), vg.Point{X: c.Min.X, Y: y}, f.subtitle)
		y -= lineHeight + 2
	}
	return y
}

// drawLegend draws the legend in as many lines as it needs and returns the
// height where it ends.
func (f *Figure) drawLegend(c draw.Canvas) vg.Length {
	x, y := c.Min.X, c.Max.Y
	if len(f.legend) == 0 {
		return y - 2
	}
	sty := letters(textSize, ink, draw.XLeft, draw.YTop)
	for _, e := range f.legend {
		width := swatchWidth + swatchGap + sty.Width(e.text)
		if x > c.Min.X && x+width > c.Max.X {
			x, y = c.Min.X, y-lineHeight-1
		}
		swatch := draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: x, Y: y - lineHeight/2 - swatchHeight/2}, Max: vg.Point{X: x + swatchWidth, Y: y - lineHeight/2 + swatchHeight/2}}}
		e.swatch.Thumbnail(&swatch)
		c.FillText(sty, vg.Point{X: x + swatchWidth + swatchGap, Y: y}, e.text)
		x += width + 14
	}
	return y - lineHeight - 4
}

// drawNotes draws the notes at the foot and returns the height where they end.
func (f *Figure) drawNotes(c draw.Canvas) vg.Length {
	sty := letters(smallSize, muted, draw.XLeft, draw.YBottom)
	var lines []string
	for _, n := range f.notes {
		lines = append(lines, wrap(n, sty, c.Max.X-c.Min.X)...)
	}
	y := c.Min.Y
	for i := len(lines) - 1; i >= 0; i-- {
		c.FillText(sty, vg.Point{X: c.Min.X, Y: y}, lines[i])
		y += lineHeight
	}
	if len(lines) > 0 {
		y += 4
	}
	return y
}

// drawPanels lays the panels out, draws them, and returns the rectangle around
// all their frames.
func (f *Figure) drawPanels(c draw.Canvas) vg.Rectangle {
	n := len(f.rows[0])
	left, right := make([]vg.Length, n), make([]vg.Length, n)
	used := vg.Length(0)
	for i := range n {
		for _, row := range f.rows {
			left[i] = max(left[i], row[i].left.width())
			right[i] = max(right[i], row[i].right.width(), 10) // half of the last label of a time axis
		}
		used += left[i] + right[i]
	}
	width := dot((c.Max.X - c.Min.X - used) / vg.Length(n))
	rest := f.spareHeight(c.Max.Y - c.Min.Y)
	around := vg.Rectangle{Min: c.Max, Max: c.Min}
	y := c.Max.Y
	for _, row := range f.rows {
		above, height, below := measures(row, rest)
		y = dot(y - above)
		x := c.Min.X
		for i, p := range row {
			x = dot(x + left[i])
			frame := vg.Rectangle{Min: vg.Point{X: x, Y: y - dot(height)}, Max: vg.Point{X: x + width, Y: y}}
			p.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: frame}, left[i], right[i])
			around.Min = vg.Point{X: min(around.Min.X, frame.Min.X), Y: min(around.Min.Y, frame.Min.Y)}
			around.Max = vg.Point{X: max(around.Max.X, frame.Max.X), Y: max(around.Max.Y, frame.Max.Y)}
			x += width + right[i]
		}
		y -= height + below + panelGap
	}
	return around
}

// spareHeight is the height of a frame that has none of its own, where all
// panels share a total.
func (f *Figure) spareHeight(total vg.Length) vg.Length {
	total -= panelGap * vg.Length(len(f.rows)-1)
	shares := 0
	for _, row := range f.rows {
		above, height, below := measures(row, 0)
		total -= above + height + below
		if height == 0 {
			shares++
		}
	}
	return total / vg.Length(max(shares, 1))
}

// measures are the heights of a row of panels, above, of and below its frames,
// where a frame without a height of its own takes rest.
func measures(row []*panel, rest vg.Length) (above, height, below vg.Length) {
	for _, p := range row {
		above, below = max(above, p.above()), max(below, p.below())
		height = max(height, p.height)
	}
	if height == 0 {
		height = rest
	}
	return above, height, below
}

// dot moves a length to the nearest whole dot of the picture, so that frames
// are sharp and maps fall on dots.
func dot(l vg.Length) vg.Length { return vg.Length(inDots(l)) * pixel }

// inDots is a length in whole dots of the picture.
func inDots(l vg.Length) int { return int(math.Round(float64(l / pixel))) }
