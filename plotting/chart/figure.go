package chart

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
)

// Figure is what a chart shows, prepared once for the picture (WritePNG) and,
// as JSON, for whatever draws it on a screen. It is finished when a function
// of this package returns it, and may be drawn any number of times.
type Figure struct {
	Title    string   `json:"title"`
	Subtitle string   `json:"subtitle,omitempty"` // the run, on one line
	Panels   []*Panel `json:"panels"`             // row by row
	Notes    []string `json:"notes,omitempty"`    // whole sentences

	columns int       // panels in a row of the picture
	height  vg.Length // of the picture
}

// Panel is one pair of axes and all that is drawn between them, from the back
// to the front: the map, areas, bands of series, grid, lines, marks, labels.
type Panel struct {
	Title  string   `json:"title,omitempty"`
	X      Axis     `json:"x"`
	Y      Axis     `json:"y"`
	Under  *Axis    `json:"under,omitempty"` // a second scale for X
	Right  *Axis    `json:"right,omitempty"` // a second scale for Y
	Heat   *Heat    `json:"heat,omitempty"`
	Areas  []Area   `json:"areas,omitempty"`
	Series []Series `json:"series,omitempty"`
	Labels []Label  `json:"labels,omitempty"`
	Pins   []Label  `json:"pins,omitempty"`  // numbered arrows above the frame
	Keyed  *Axis    `json:"keyed,omitempty"` // what Heat or the Shades of a series mean by colour
	Banner string   `json:"banner,omitempty"`
	Lanes  bool     `json:"lanes,omitempty"` // each series is a lane of events

	colours []Ink     // of Keyed, from its low end to its high one
	height  vg.Length // of the frame; 0 shares what is left
	bare    bool      // no grid
	strips  int       // of the picture into which the rows of Heat are divided; 0 is 1
}

// Axis is a scale and its ticks. Those without a label are minor ones.
type Axis struct {
	Label  string      `json:"label"`
	Unit   string      `json:"unit,omitempty"` // as in a sentence
	Kind   string      `json:"kind,omitempty"` // Elapsed or Log; empty for a linear scale of values
	Signed bool        `json:"signed,omitempty"`
	Down   bool        `json:"down,omitempty"` // from Low at the top to High at the foot
	Low    float64     `json:"low"`
	High   float64     `json:"high"`
	Ticks  []plot.Tick `json:"ticks"`
	mute   bool        // in the picture, the axis under it has the labels
}

// The kinds of axes that are not linear scales of values.
const (
	Elapsed = "elapsed" // seconds since the recording began
	Log     = "log"     // decimal logarithms
)

// Series is a curve, points, or both, in the units of the axes.
type Series struct {
	Name   string    `json:"name,omitempty"` // in the legend; empty leaves it out
	X      Numbers   `json:"x"`              // in ascending order where a line is drawn
	Y      Numbers   `json:"y"`              // NaN breaks the line
	Low    Numbers   `json:"low,omitempty"`  // bounds of Y; nil where there are none
	High   Numbers   `json:"high,omitempty"`
	Bounds string    `json:"bounds,omitempty"` // what they are: OneError or Interval
	Band   *Ink      `json:"band,omitempty"`   // fills between the bounds; nil draws bars
	XError Numbers   `json:"-"`                // standard errors of X; nil where there are none
	Ink    Ink       `json:"ink"`
	Width  float64   `json:"width,omitempty"` // of the line in points; 0 for none
	Dash   []float64 `json:"dash,omitempty"`  // of the line, in points
	Mark   Mark      `json:"mark,omitempty"`  // at each point
	Size   float64   `json:"size,omitempty"`  // of the marks: radius in points
	Shade  Numbers   `json:"-"`               // by the panel's Keyed, instead of Ink; nil where there is none
	Strays bool      `json:"strays,omitempty"`
}

// What bounds are, as the legend says it.
const (
	OneError = "± one standard error"
	Interval = "95 % band"
)

// Mark is the shape of a point.
type Mark string

// The marks. All differ in shape, not in colour alone.
const (
	Dot      Mark = "dot"
	Circle   Mark = "circle" // see-through
	Ring     Mark = "ring"   // filled with white
	Square   Mark = "square"
	Box      Mark = "box"
	Plus     Mark = "plus"
	Cross    Mark = "cross"
	Forward  Mark = "forward"
	Backward Mark = "backward"
	Down     Mark = "down"
	Up       Mark = "up"
)

// Area is a number of filled boxes.
type Area struct {
	Name  string       `json:"name,omitempty"` // in the legend; empty leaves it out
	Ink   Ink          `json:"ink"`
	Boxes [][4]float64 `json:"boxes"` // left, foot, right, top
}

// Label is a text about a place.
type Label struct {
	X    float64 `json:"at"`
	Y    float64 `json:"y"`
	Text string  `json:"text"`
}

// Numbers are written to JSON in nine significant digits, as null where there
// is none.
type Numbers []float64

// MarshalJSON implements json.Marshaler.
func (n Numbers) MarshalJSON() ([]byte, error) {
	text := []byte{'['}
	for i, x := range n {
		if i > 0 {
			text = append(text, ',')
		}
		if !finite(x) {
			text = append(text, "null"...)
			continue
		}
		text = strconv.AppendFloat(text, x, 'g', 9, 64)
	}
	return append(text, ']'), nil
}

// Ink is a colour of sRGB, not premultiplied.
type Ink color.NRGBA

// RGBA implements color.Color.
func (i Ink) RGBA() (r, g, b, a uint32) { return color.NRGBA(i).RGBA() }

// MarshalText writes the colour as style sheets do.
func (i Ink) MarshalText() ([]byte, error) {
	return fmt.Appendf(nil, "#%02x%02x%02x%02x", i.R, i.G, i.B, i.A), nil
}

// newFigure returns a figure of the usual height.
func newFigure(title string, h Heading, panels ...*Panel) *Figure {
	return &Figure{Title: title, Subtitle: h.subtitle(), Panels: panels, columns: 1, height: figureHeight}
}

// note adds a sentence under the chart; an empty one adds nothing.
func (f *Figure) note(s string) {
	if s != "" {
		f.Notes = append(f.Notes, s)
	}
}

// span is the range of the axis.
func (a Axis) span() span { return span{a.Low, a.High} }

// upright is a box over the whole height of a panel, no narrower than a dot of
// the picture.
func (p *Panel) upright(s span) [4]float64 {
	least := p.X.span().width() / float64(textWidth/pixel)
	return [4]float64{p.X.span().clamp(s.lo), p.Y.Low, p.X.span().clamp(max(s.hi, s.lo+least)), p.Y.High}
}

// level adds a thin line across the panel at a value within its range.
func (p *Panel) level(y float64) {
	if p.Y.span().contains(y) {
		p.Series = append(p.Series, Series{X: Numbers{p.X.Low, p.X.High}, Y: Numbers{y, y}, Ink: muted, Width: 0.5})
	}
}

// stretches calls do with the half-open ranges of points between the breaks of
// a line.
func (s *Series) stretches(do func(first, last int)) {
	first := 0
	for i := 0; i <= len(s.Y); i++ {
		if i == len(s.Y) || math.IsNaN(s.Y[i]) {
			if i > first {
				do(first, i)
			}
			first = i + 1
		}
	}
}
