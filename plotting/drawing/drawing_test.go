package drawing

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"rundown/analysis/fusee"
)

// sample is a fusee to draw.
func sample(t testing.TB, change func(*fusee.Options)) *fusee.Fusee {
	t.Helper()
	var x, y []float64
	for i := range 29 {
		x = append(x, float64(i)/4)
		y = append(y, 900-100*x[i]-40*math.Sin(x[i]))
	}
	o := fusee.Options{BarrelDiameter: 32, Chain: 1.1, ChainWidth: 1.1, Turns: 5.6, SetUp: 1, Pitch: 1.4, Step: 0.125, Rounding: 0.001}
	if change != nil {
		change(&o)
	}
	f, err := fusee.Design(fusee.NewCurve(x, y, nil), o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// entity is what a DXF file draws, as its group codes and values.
type entity struct {
	kind   string
	layer  string
	points []vertex
	text   string
	height float64
}

// readDXF reads a DXF file by its group codes, and fails where it is not well formed. It
// knows nothing of what wrote it.
func readDXF(t *testing.T, text []byte) (entities []entity, header map[string]string, layers []string) {
	t.Helper()
	header = map[string]string{}
	section, variable := "", ""
	var at *entity
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		code, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
		if err != nil || !lines.Scan() {
			t.Fatalf("group code %q, or its value missing", lines.Text())
		}
		value := lines.Text()
		number := func() float64 {
			v, err := strconv.ParseFloat(value, 64)
			if err != nil {
				t.Fatalf("group %d: %q is no number", code, value)
			}
			return v
		}
		switch {
		case code == 0 && value == "EOF":
			if lines.Scan() {
				t.Fatal("more after the end")
			}
			return entities, header, layers
		case code == 0 && value == "VERTEX", code == 0 && value == "SEQEND":
			at.kind = "POLYLINE, its vertices"
			if value == "VERTEX" {
				at.points = append(at.points, vertex{})
			}
		case code == 0:
			entities = append(entities, entity{kind: value})
			at = &entities[len(entities)-1]
		case code == 2 && at.kind == "SECTION":
			section = value
		case code == 2 && at.kind == "LAYER":
			layers = append(layers, value)
		case section == "HEADER" && code == 9:
			variable = value
		case section == "HEADER":
			header[variable] += value + " "
		case section != "ENTITIES":
		case code == 8:
			at.layer = value
		case code == 1:
			at.text = value
		case code == 40:
			at.height = number()
		case code == 10 && at.kind == "POLYLINE, its vertices":
			at.points[len(at.points)-1].x = number()
		case code == 20 && at.kind == "POLYLINE, its vertices":
			at.points[len(at.points)-1].y = number()
		}
	}
	t.Fatal("no end of file")
	return nil, nil, nil
}

func TestDXFGivesTheTable(t *testing.T) {
	for _, units := range []fusee.Units{{}, {Inches: true}} {
		f := sample(t, nil)
		var b bytes.Buffer
		if err := Fusee(f, units).WriteDXF(&b); err != nil {
			t.Fatal(err)
		}
		entities, header, layers := readDXF(t, b.Bytes())
		if strings.TrimSpace(header["$ACADVER"]) != "AC1009" {
			t.Errorf("version %q", header["$ACADVER"])
		}
		for layer, sign := range map[string]float64{MiddleLine: 1, Mirrored: -1} {
			if !strings.Contains(strings.Join(layers, " "), layer) {
				t.Errorf("layer %s is not declared", layer)
			}
			found := 0
			for _, e := range entities {
				if e.layer != layer {
					continue
				}
				found++
				var points []vertex
				for _, p := range e.points {
					points = append(points, vertex{units.InMillimetres(p.x), sign * units.InMillimetres(p.y)})
				}
				sameAsTable(t, f, points)
			}
			if found != 1 {
				t.Errorf("%d lines on layer %s", found, layer)
			}
		}
		for _, e := range entities {
			if e.kind == "TEXT" && (e.text == "" || strings.IndexFunc(e.text, func(r rune) bool { return r > 126 }) >= 0) {
				t.Errorf("text %q", e.text)
			}
		}
	}
}

// sameAsTable compares points with the rows of a table, to a thousandth of a millimetre.
func sameAsTable(t *testing.T, f *fusee.Fusee, points []vertex) {
	t.Helper()
	if len(points) != len(f.Rows) {
		t.Fatalf("%d points, %d rows", len(points), len(f.Rows))
	}
	worst := 0.0
	for i, r := range f.Rows {
		worst = max(worst, math.Abs(points[i].x-r.Axial), math.Abs(points[i].y-r.Radius))
	}
	if worst > 1e-3 {
		t.Errorf("off by %v mm", worst)
	}
}

func TestSVGGivesTheTable(t *testing.T) {
	f := sample(t, nil)
	var b bytes.Buffer
	if err := Fusee(f, fusee.Units{}).WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	var root struct {
		Width   string `xml:"width,attr"`
		Height  string `xml:"height,attr"`
		ViewBox string `xml:"viewBox,attr"`
		Groups  []struct {
			ID    string `xml:"id,attr"`
			Lines []struct {
				Points string `xml:"points,attr"`
			} `xml:"polyline"`
		} `xml:"g"`
	}
	if err := xml.Unmarshal(b.Bytes(), &root); err != nil {
		t.Fatal(err)
	}
	box := strings.Fields(root.ViewBox)
	if len(box) != 4 || root.Width != box[2]+"mm" || root.Height != box[3]+"mm" {
		t.Errorf("not at its true size: %s by %s, view %s", root.Width, root.Height, root.ViewBox)
	}
	found := 0
	for _, g := range root.Groups {
		if g.ID != MiddleLine {
			continue
		}
		for _, l := range g.Lines {
			found++
			var points []vertex
			for _, pair := range strings.Fields(l.Points) {
				a, c, _ := strings.Cut(pair, ",")
				x, err := strconv.ParseFloat(a, 64)
				y, err2 := strconv.ParseFloat(c, 64)
				if err != nil || err2 != nil {
					t.Fatalf("%q", pair)
				}
				points = append(points, vertex{x, -y})
			}
			sameAsTable(t, f, points)
		}
	}
	if found != 1 {
		t.Errorf("%d middle lines", found)
	}
}

// The dimensions say what the table does, in either unit, and everything lies within the
// sheet.
func TestDimensions(t *testing.T) {
	f := sample(t, nil)
	for _, c := range []struct {
		units fusee.Units
		want  []string
	}{
		{fusee.Units{}, []string{"R " + places(f.Rows[0].Radius, 2), "R " + places(f.Rows[len(f.Rows)-1].Radius, 2), "7.84", "pitch 1.400", "this bar is 20 mm"}},
		{fusee.Units{Inches: true}, []string{"R " + places(f.Rows[0].Radius/25.4, 4), "0.3087", "pitch 0.05512", "this bar is 1 inch long"}},
	} {
		d := Fusee(f, c.units)
		var all []string
		for _, x := range d.texts {
			all = append(all, x.text)
		}
		for _, want := range c.want {
			if !strings.Contains(strings.Join(all, "\n"), want) {
				t.Errorf("%q is not said in %q", want, all)
			}
		}
		for _, l := range d.lines {
			for _, p := range l.points {
				if p.x < d.lo.x || p.y < d.lo.y || p.x > d.hi.x || p.y > d.hi.y {
					t.Errorf("%v lies outside of %v to %v", p, d.lo, d.hi)
				}
			}
		}
	}
}

func places(x float64, n int) string { return strconv.FormatFloat(x, 'f', n, 64) }

func TestDrawingIsTheSameEachTime(t *testing.T) {
	f := sample(t, nil)
	for name, write := range map[string]func(*Drawing, io.Writer) error{"SVG": (*Drawing).WriteSVG, "DXF": (*Drawing).WriteDXF} {
		var a, b bytes.Buffer
		if err := write(Fusee(f, fusee.Units{}), &a); err != nil {
			t.Fatal(err)
		}
		if err := write(Fusee(f, fusee.Units{}), &b); err != nil {
			t.Fatal(err)
		}
		if a.String() != b.String() {
			t.Errorf("%s differs", name)
		}
	}
}
