package drawing

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"rundown/analysis/fusee"
)

// WriteDXF writes the drawing as DXF of release 12 (AutoCAD R12, "DXF Reference", AC1009),
// the layers by their names. One unit is a millimetre, or an inch where dimensions are in
// inches; x runs along the axis from the large end, y outwards from it. The error is w's.
func (d *Drawing) WriteDXF(w io.Writer) error {
	x := &dxf{decimals: d.decimals, scale: fusee.Units{Inches: d.inches}.Length}
	x.header(d)
	x.tables()
	x.pair(0, "SECTION")
	x.pair(2, "ENTITIES")
	for _, l := range d.lines {
		x.line(l)
	}
	for _, t := range d.texts {
		x.text(t)
	}
	x.pair(0, "ENDSEC")
	x.pair(0, "EOF")
	_, err := x.WriteTo(w)
	return err
}

// dxf is a file in the making: pairs of a group code and a value, a line each.
type dxf struct {
	bytes.Buffer
	decimals int
	scale    func(mm float64) float64
}

func (x *dxf) pair(code int, value string) { fmt.Fprintf(x, "%3d\n%s\n", code, value) }

// place writes a point, by its group code for x.
func (x *dxf) place(code int, p vertex) {
	x.pair(code, coordinate(x.scale(p.x), x.decimals))
	x.pair(code+10, coordinate(x.scale(p.y), x.decimals))
	x.pair(code+20, "0.0")
}

func (x *dxf) header(d *Drawing) {
	x.pair(0, "SECTION")
	x.pair(2, "HEADER")
	x.pair(9, "$ACADVER")
	x.pair(1, "AC1009")
	x.pair(9, "$EXTMIN")
	x.place(10, d.lo)
	x.pair(9, "$EXTMAX")
	x.place(10, d.hi)
	x.pair(9, "$LTSCALE")
	x.pair(40, coordinate(x.scale(1), x.decimals))
	x.pair(0, "ENDSEC")
}

// tables declare the kinds of lines and the layers.
func (x *dxf) tables() {
	x.pair(0, "SECTION")
	x.pair(2, "TABLES")
	x.table("LTYPE", 2, func() {
		x.lineType("CONTINUOUS", "Solid line")
		x.lineType("CENTER", "Centre line", 4, -0.8, 0.5, -0.8)
	})
	x.table("LAYER", len(layers), func() {
		for _, l := range layers {
			kind := "CONTINUOUS"
			if l.dotted {
				kind = "CENTER"
			}
			x.pair(0, "LAYER")
			x.pair(2, l.name)
			x.pair(70, "0")
			x.pair(62, fmt.Sprint(l.colour))
			x.pair(6, kind)
		}
	})
	x.pair(0, "ENDSEC")
}

func (x *dxf) table(name string, n int, fill func()) {
	x.pair(0, "TABLE")
	x.pair(2, name)
	x.pair(70, fmt.Sprint(n))
	fill()
	x.pair(0, "ENDTAB")
}

func (x *dxf) lineType(name, about string, dashes ...float64) {
	x.pair(0, "LTYPE")
	x.pair(2, name)
	x.pair(70, "0")
	x.pair(3, about)
	x.pair(72, "65")
	x.pair(73, fmt.Sprint(len(dashes)))
	total := 0.0
	for _, dash := range dashes {
		total += max(dash, -dash)
	}
	x.pair(40, fmt.Sprint(total))
	for _, dash := range dashes {
		x.pair(49, fmt.Sprint(dash))
	}
}

func (x *dxf) line(l line) {
	if l.filled { // a triangle has its last corner twice
		x.pair(0, "SOLID")
		x.pair(8, l.layer)
		for i, p := range append(l.points[:3:3], l.points[2]) {
			x.place(10+i, p)
		}
		return
	}
	closed := "0"
	if l.closed {
		closed = "1"
	}
	x.pair(0, "POLYLINE")
	x.pair(8, l.layer)
	x.pair(66, "1")
	x.place(10, vertex{})
	x.pair(70, closed)
	for _, p := range l.points {
		x.pair(0, "VERTEX")
		x.pair(8, l.layer)
		x.place(10, p)
	}
	x.pair(0, "SEQEND")
	x.pair(8, l.layer)
}

func (x *dxf) text(t text) {
	x.pair(0, "TEXT")
	x.pair(8, t.layer)
	x.place(10, t.at)
	x.pair(40, coordinate(x.scale(t.height), x.decimals))
	x.pair(1, strings.ReplaceAll(t.text, "%", "%%%"))
	if t.turned {
		x.pair(50, "90.0")
	}
	if align := map[string]string{"middle": "1", "end": "2"}[t.anchor]; align != "" {
		x.pair(72, align)
		x.place(11, t.at)
	}
}
