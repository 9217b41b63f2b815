package chart

import (
	"image/color"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/palette"
	"gonum.org/v1/plot/palette/moreland"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Sizes in points.
const (
	titleSize vg.Length = 11
	textSize  vg.Length = 8
	smallSize vg.Length = 7.5

	figureWidth  vg.Length = 510 // 180 mm
	figureHeight vg.Length = 284 // 100 mm
	margin       vg.Length = 8
	gap          vg.Length = 6 // between panels
	lineHeight   vg.Length = 10
	scaleHeight  vg.Length = 30 // what a second scale under a panel takes
	textWidth              = figureWidth - 2*margin
	pixel                  = vg.Inch / dpi // one dot of the picture
)

// The inks, from dark to light. In grey they keep their order.
var (
	ink    = Ink{0x1b, 0x22, 0x2c, 0xff} // text and frames
	dark   = Ink{0x12, 0x3f, 0x5c, 0xff} // the curve that counts
	rust   = Ink{0xa8, 0x4a, 0x14, 0xff} // the second curve
	muted  = Ink{0x5d, 0x66, 0x70, 0xff} // text that explains
	middle = Ink{0x7f, 0x9f, 0xb5, 0xff} // single windows
	still  = Ink{0xb4, 0xb9, 0xbf, 0xff} // standstill
	sand   = Ink{0xec, 0xc9, 0xa4, 0xff} // errors of the second curve
	pale   = Ink{0xc6, 0xd8, 0xe3, 0xff} // errors of the curve
	rule   = Ink{0xd9, 0xdc, 0xdf, 0xff} // grid
	grey   = Ink{0xe6, 0xe7, 0xe9, 0xff} // a band about the difference
	wash   = Ink{0xf6, 0xee, 0xd8, 0xff} // stable band
	shade  = Ink{0xf1, 0xf2, 0xf4, 0xff} // every other tooth
	yellow = Ink{0xff, 0xe2, 0x3d, 0xff} // a line across the map
)

// translucent lets what lies behind a colour show through.
func translucent(i Ink) Ink { i.A = 0xa0; return i }

// face is a sans-serif font of the given size.
func face(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// letters is a style of text. The handler is our own, so that a change of the
// library's default doesn't change our charts.
func letters(size vg.Length, ink color.Color, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{
		Color: ink, Font: face(size), XAlign: x, YAlign: y,
		Handler: text.Plain{Fonts: font.DefaultCache},
	}
}

// bold makes a style bold.
func bold(s text.Style) text.Style {
	s.Font.Weight = stdfont.WeightBold
	return s
}

// stroke is a line with dashes in points; none are a solid one.
func stroke(ink color.Color, width float64, dash ...float64) draw.LineStyle {
	s := draw.LineStyle{Color: ink, Width: vg.Length(width)}
	for _, d := range dash {
		s.Dashes = append(s.Dashes, vg.Length(d))
	}
	return s
}

// themed is a plot with our letters, lines and axes, and nothing in it.
func themed(x, y Axis) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.Title.TextStyle = letters(textSize, ink, draw.XCenter, draw.YTop)
	p.Title.Padding = 3
	for _, a := range []struct {
		of   Axis
		plot *plot.Axis
	}{{x, &p.X}, {y, &p.Y}} {
		a.plot.Min, a.plot.Max = a.of.Low, a.of.High
		a.plot.Padding, a.plot.LineStyle.Width = 0, 0 // the frame is drawn around all
		a.plot.Label.Text, a.plot.Label.Padding = a.of.Label, 2
		a.plot.Label.TextStyle = letters(textSize, ink, draw.XCenter, draw.YBottom)
		sty := letters(textSize, ink, a.plot.Tick.Label.XAlign, a.plot.Tick.Label.YAlign)
		a.plot.Tick.Label, a.plot.Tick.LineStyle, a.plot.Tick.Length = sty, stroke(ink, 0.5), 3
		if a.of.mute {
			a.plot.Label.Text, a.plot.Tick.Label.Font.Size = "", hair
		}
		a.plot.Tick.Marker = plot.ConstantTicks(a.of.Ticks)
	}
	return p
}

// glyph draws a mark.
type glyph Mark

// DrawGlyph implements draw.GlyphDrawer.
func (g glyph) DrawGlyph(c *draw.Canvas, sty draw.GlyphStyle, at vg.Point) {
	r := sty.Radius
	switch Mark(g) {
	case Forward:
		c.FillPolygon(sty.Color, arrow(at, r, 0))
	case Backward:
		c.FillPolygon(sty.Color, arrow(at, -r, 0))
	case Down:
		c.FillPolygon(sty.Color, arrow(at, 0, -r))
	case Up:
		c.FillPolygon(sty.Color, arrow(at, 0, r))
	case Ring: // hollow, so that a line through it doesn't fill it
		c.DrawGlyph(draw.GlyphStyle{Color: color.White, Radius: r, Shape: draw.CircleGlyph{}}, at)
		c.DrawGlyph(draw.GlyphStyle{Color: sty.Color, Radius: r, Shape: draw.RingGlyph{}}, at)
	default:
		shapes[Mark(g)].DrawGlyph(c, sty, at)
	}
}

// shapes are the marks that the library draws.
var shapes = map[Mark]draw.GlyphDrawer{
	Dot: draw.CircleGlyph{}, Circle: draw.RingGlyph{}, Square: draw.SquareGlyph{}, Box: draw.BoxGlyph{},
	Plus: draw.PlusGlyph{}, Cross: draw.CrossGlyph{},
}

// arrow is a triangle about a point, which points along (dx, dy).
func arrow(at vg.Point, dx, dy vg.Length) []vg.Point {
	foot := vg.Point{X: at.X - dx, Y: at.Y - dy}
	return []vg.Point{{X: at.X + dx, Y: at.Y + dy}, {X: foot.X + dy, Y: foot.Y - dx}, {X: foot.X - dy, Y: foot.Y + dx}}
}

// ages are n colours from early to late, dark blue through green to straw.
func ages(n int) []Ink {
	return ramp(n, Ink{21, 32, 94, 255}, Ink{12, 95, 115, 255}, Ink{79, 152, 109, 255}, Ink{211, 191, 80, 255})
}

// deviations are n colours from early to late: light blue, a neutral grey half
// way in lightness, dark red.
func deviations(n int) []Ink {
	colours := ramp(n, Ink{74, 2, 2, 255}, Ink{121, 121, 121, 255}, Ink{171, 233, 255, 255})
	slices.Reverse(colours)
	return colours
}

// ramp are n colours through controls of rising lightness, in even steps of it,
// so that they keep their order in grey.
func ramp(n int, controls ...color.Color) []Ink {
	scale, err := moreland.NewLuminance(controls)
	if err != nil {
		panic("chart: " + err.Error())
	}
	scale.SetMax(1)
	colours := make([]Ink, n)
	for i, c := range scale.Palette(n).Colors() {
		colours[i] = Ink(color.NRGBAModel.Convert(c).(color.NRGBA))
	}
	return colours
}

// inks are colours as the library wants them.
type inks []Ink

var _ palette.Palette = inks(nil)

// Colors implements palette.Palette.
func (i inks) Colors() []color.Color {
	colours := make([]color.Color, len(i))
	for k, c := range i {
		colours[k] = c
	}
	return colours
}

// safe makes one line of any text: whatever can't be printed becomes a question
// mark. The result is valid UTF-8.
func safe(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

// arborName is the name of an arbor as it stands in titles and along axes.
func arborName(s string) string {
	return cut(safe(s), bold(letters(titleSize, ink, 0, 0)), textWidth*0.4)
}

// cut shortens s to a width by leaving out its middle, since names of
// recordings differ at either end.
func cut(s string, sty text.Style, width vg.Length) string {
	if sty.Width(s) <= width {
		return s
	}
	r := []rune(s)
	short := ""
	for n := range len(r) {
		head := n - n/2
		longer := string(r[:head]) + "…" + string(r[len(r)-n/2:])
		if sty.Width(longer) > width {
			break
		}
		short = longer
	}
	return short
}

// wrap breaks s between words into lines no wider than width. A word that is
// wider stands alone, cut.
func wrap(s string, sty text.Style, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.Split(s, " ") { // spaces within a figure don't break
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && sty.Width(longer) > width {
			lines = append(lines, line)
			longer = word
		}
		line = cut(longer, sty, width)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
