package drawing

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"strconv"
	"strings"
)

// border is what is left white around a drawing, mm.
const border = 5

// inks are the colours of the layers on paper.
var inks = map[string]string{MiddleLine: "#a84a14", Mirrored: "#a84a14", GrooveBottom: "#1b222c", ChainSection: "#7f9fb5", Axis: "#123f5c", Dimensions: "#5d6670", Notes: "#1b222c"}

// WriteSVG writes the drawing for print at its true size (W3C, SVG 1.1). One unit is a
// millimetre; x runs along the axis from the large end, y downwards from the axis. The
// error is w's.
func (d *Drawing) WriteSVG(w io.Writer) error {
	var b bytes.Buffer
	left, top := d.lo.x-border, -d.hi.y-border
	width, height := d.hi.x-d.lo.x+2*border, d.hi.y-d.lo.y+2*border
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.3fmm" height="%.3fmm" viewBox="%.3f %.3f %.3f %.3f" font-family="Liberation Sans, Arial, sans-serif">`+"\n", width, height, left, top, width, height)
	fmt.Fprintf(&b, `<rect x="%.3f" y="%.3f" width="%.3f" height="%.3f" fill="#fff"/>`+"\n", left, top, width, height)
	for _, layer := range layers {
		dash := ""
		if layer.dotted {
			dash = ` stroke-dasharray="4 0.8 0.5 0.8"`
		}
		fmt.Fprintf(&b, `<g id="%s" fill="none" stroke="%s" stroke-width="%g"%s>`+"\n", layer.name, inks[layer.name], layer.width, dash)
		for _, l := range d.lines {
			if l.layer == layer.name {
				l.svg(&b, inks[layer.name])
			}
		}
		for _, t := range d.texts {
			if t.layer == layer.name {
				t.svg(&b, inks[layer.name])
			}
		}
		b.WriteString("</g>\n")
	}
	b.WriteString("</svg>\n")
	_, err := b.WriteTo(w)
	return err
}

func (l line) svg(b *bytes.Buffer, ink string) {
	name, fill := "polyline", ""
	if l.closed {
		name = "polygon"
	}
	if l.filled {
		fill = ` fill="` + ink + `" stroke="none"`
	}
	var points []string
	for _, p := range l.points {
		points = append(points, coordinate(p.x, 6)+","+coordinate(-p.y, 6))
	}
	fmt.Fprintf(b, `<%s%s points="%s"/>`+"\n", name, fill, strings.Join(points, " "))
}

func (t text) svg(b *bytes.Buffer, ink string) {
	turn := ""
	if t.turned {
		turn = fmt.Sprintf(` transform="rotate(-90 %.3f %.3f)"`, t.at.x, -t.at.y)
	}
	// Capitals are 0.72 of the size of these letters.
	fmt.Fprintf(b, `<text x="%.3f" y="%.3f" font-size="%.3f" text-anchor="%s" fill="%s" stroke="none"%s>%s</text>`+"\n",
		t.at.x, -t.at.y, t.height/0.72, t.anchor, ink, turn, html.EscapeString(t.text))
}

// coordinate writes a figure with so many decimals, and zero without a sign.
func coordinate(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}
