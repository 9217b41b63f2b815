package chart

import (
	"fmt"
	"strings"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// label is a text on a chart and the rectangle that it takes up.
type label struct {
	text string
	box  vg.Rectangle
}

// labels records what a figure writes where. Of letters that stand upright or
// are turned by a right angle, which are all, the box reaches from the foot of
// a figure to its top: descenders may touch what is below.
func labels(f *Figure) []label {
	var c recorder.Canvas
	f.draw(draw.NewCanvas(&c, figureWidth, f.height))
	turned := []bool{false}
	var ls []label
	for _, a := range c.Actions {
		switch a := a.(type) {
		case *recorder.Push:
			turned = append(turned, turned[len(turned)-1])
		case *recorder.Pop:
			turned = turned[:len(turned)-1]
		case *recorder.Rotate:
			turned[len(turned)-1] = true
		case *recorder.FillString:
			face := font.DefaultCache.Lookup(a.Font, a.Size)
			box := vg.Rectangle{Min: a.Point, Max: vg.Point{X: a.Point.X + face.Width(a.String), Y: a.Point.Y + 0.7*a.Size}}
			if turned[len(turned)-1] {
				box = vg.Rectangle{Min: vg.Point{X: -box.Max.Y, Y: box.Min.X}, Max: vg.Point{X: -box.Min.Y, Y: box.Max.X}}
			}
			ls = append(ls, label{a.String, box})
		}
	}
	return ls
}

// Every line and area is finite and stays on the page, save the half width of
// a mark at its edge.
func TestNothingLeavesThePage(t *testing.T) {
	for name, f := range awkwardFigures() {
		var c recorder.Canvas
		f.draw(draw.NewCanvas(&c, figureWidth, f.height))
		check := func(p vg.Path) {
			for _, part := range p {
				at := part.Pos
				if part.Type != vg.CloseComp && !(at.X >= 0 && at.X <= figureWidth && at.Y >= 0 && at.Y <= f.height) {
					t.Fatalf("%s: a path leads to %v", name, at)
				}
			}
		}
		for _, a := range c.Actions {
			switch a := a.(type) {
			case *recorder.Stroke:
				check(a.Path)
			case *recorder.Fill:
				check(a.Path)
			}
		}
	}
}

func overlap(a, b vg.Rectangle) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}

func TestNoTextCoversAnother(t *testing.T) {
	for name, f := range awkwardFigures() {
		ls := labels(f)
		page := vg.Rectangle{Max: vg.Point{X: figureWidth, Y: f.height}}
		for i, a := range ls {
			if a.box.Min.X < page.Min.X || a.box.Max.X > page.Max.X || a.box.Min.Y < page.Min.Y || a.box.Max.Y > page.Max.Y {
				t.Errorf("%s: %q leaves the page: %v", name, a.text, a.box)
			}
			for _, b := range ls[i+1:] {
				if overlap(a.box, b.box) {
					t.Errorf("%s: %q at %v and %q at %v overlap", name, a.text, a.box, b.text, b.box)
				}
			}
		}
	}
}

// Names of any length leave the page as it is.
func TestLongNamesAreCut(t *testing.T) {
	long := strings.Repeat("name ", 200)
	floors := sampleFloors()
	floors[0].Name = long
	a, b := plainRun(1, 2), plainRun(1, 2)
	a.Name, b.Name = long, long
	for _, f := range []*Figure{Stability(Heading{long, 1e6}, sampleStabilities(), floors...), Compare([]Run{a}, []Run{b}, nil)} {
		for _, l := range labels(f) {
			if l.box.Min.X < 0 || l.box.Max.X > figureWidth {
				t.Errorf("%s: %q leaves the page", f.Title, l.text)
			}
		}
	}
}

// Elapsed times of all lengths have labels that can be told apart.
func TestTimeLabelsOfAnyLengthFit(t *testing.T) {
	for length := 0.01; length < 100*day; length *= 1.13 {
		f := newFigure(fmt.Sprint(length), Heading{}, &Panel{X: elapsedAxis(span{0, length}, mostTimes), Y: Axis{High: 1}})
		ls := labels(f)
		if len(ls) < 4 { // title, label of the axis, two ticks
			t.Errorf("%g s: only %d texts", length, len(ls))
		}
		for i, a := range ls {
			for _, b := range ls[i+1:] {
				if overlap(a.box, b.box) {
					t.Errorf("%g s: %q and %q overlap", length, a.text, b.text)
				}
			}
		}
	}
}

// framesOf lays tiles out and returns their frames.
func framesOf(rows [][]tile) [][]vg.Rectangle {
	frames := make([][]vg.Rectangle, len(rows))
	for r, row := range rows {
		frames[r] = make([]vg.Rectangle, len(row))
		for i, t := range row {
			t.plot.Add(probe{&frames[r][i]})
		}
	}
	var c recorder.Canvas
	layout(draw.NewCanvas(&c, figureWidth, figureHeight), rows)
	return frames
}

// probe notes the frame that a plot is given.
type probe struct{ frame *vg.Rectangle }

// Plot implements plot.Plotter.
func (p probe) Plot(c draw.Canvas, _ *plot.Plot) { *p.frame = c.Rectangle }
