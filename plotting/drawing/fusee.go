package drawing

import (
	"fmt"
	"math"
	"slices"

	"rundown/analysis/fusee"
)

// Fusee draws a fusee in section: the middle line of the chain through all rows of the
// table, on both sides of the axis, the bottom of the groove, the chain as it lies in each
// turn, and the dimensions in the given units.
func Fusee(f *fusee.Fusee, units fusee.Units) *Drawing {
	d := &Drawing{inches: units.Inches, decimals: 6}
	if units.Inches {
		d.decimals = 8
	}
	half := f.Options.Chain / 2
	above, below, body := line{layer: MiddleLine}, line{layer: Mirrored}, line{layer: GrooveBottom, closed: true}
	for _, r := range f.Rows {
		above.points, below.points = append(above.points, vertex{r.Axial, r.Radius}), append(below.points, vertex{r.Axial, -r.Radius})
		body.points = append(body.points, vertex{r.Axial, r.Radius - half})
	}
	for _, r := range slices.Backward(f.Rows) {
		body.points = append(body.points, vertex{r.Axial, half - r.Radius})
	}
	length, largest := f.Turns*f.Pitch, f.Radii()[1]
	out := f.ChainWidth/2 + 5
	for _, l := range []line{body, above, below, {layer: Axis, points: []vertex{{-6, 0}, {length + 6, 0}}}} {
		d.add(l)
	}
	d.chain(f)
	first, last := f.Rows[0], f.Rows[len(f.Rows)-1]
	written := func(mm float64) string { return fmt.Sprintf("%.*f", units.Decimals(), units.Length(mm)) }
	d.dimension(vertex{-out, 0}, vertex{-out, first.Radius}, vertex{-out, 0}, vertex{first.Axial, first.Radius}, "R "+written(first.Radius))
	d.dimension(vertex{length + out + 4, 0}, vertex{length + out + 4, last.Radius}, vertex{length + out + 4, 0}, vertex{last.Axial, last.Radius}, "R "+written(last.Radius))
	under := -largest - half - 6
	d.dimension(vertex{0, under}, vertex{length, under}, vertex{0, -first.Radius}, vertex{length, -last.Radius}, written(length))
	over := largest + half + 4
	if f.Turns >= 1 {
		d.dimension(vertex{0, over}, vertex{f.Pitch, over}, vertex{0, first.Radius}, vertex{f.Pitch, f.Groove.Radius(1)}, fmt.Sprintf("pitch %.*f", units.Decimals()+1, units.Length(f.Pitch)))
	}
	d.notes(f, units, vertex{-out - 4, under - 6})
	return d
}

// chain draws the section of the chain in each turn: on the upper side at whole turns, on
// the lower at half ones.
func (d *Drawing) chain(f *fusee.Fusee) {
	for k := 0; float64(k)/2 <= f.Turns+1e-9; k++ {
		turn := math.Min(float64(k)/2, f.Turns)
		x, y, w, h := turn*f.Pitch, f.Groove.Radius(turn), f.ChainWidth/2, f.Options.Chain/2
		if k%2 == 1 {
			y = -y
		}
		d.add(line{layer: ChainSection, closed: true, points: []vertex{{x - w, y - h}, {x + w, y - h}, {x + w, y + h}, {x - w, y + h}}})
	}
}

// notes say what cannot be drawn, below the drawing, and a bar tells whether it was
// printed at its true size.
func (d *Drawing) notes(f *fusee.Fusee, units fusee.Units, at vertex) {
	unit := "mm"
	if units.Inches {
		unit = "inches"
	}
	written := func(mm float64) string { return fmt.Sprintf("%.*f", units.Decimals(), units.Length(mm)) }
	bar := units.InMillimetres(map[bool]float64{false: 20, true: 1}[units.Inches])
	for _, says := range []string{
		"Fusee in section, 1:1, dimensions in " + unit,
		fmt.Sprintf("%.4g turns; turn 0 is the large end, at the left", f.Turns),
		"Radii R are of the chain's middle line (red)",
		"The groove's bottom (black) lies " + written(f.Options.Chain/2) + " nearer to the axis",
		"Chain (blue) " + written(f.Options.Chain) + " high, " + written(f.ChainWidth) + " wide",
		"Upper side at whole turns, lower side at half ones",
		"Not shown: the hand of the groove, which is the movement's, and its shape",
		fmt.Sprintf("Printed at 100 %%, this bar is %g %s long:", units.Length(bar), map[bool]string{false: "mm", true: "inch"}[units.Inches]),
	} {
		d.write(text{Notes, at, textHeight, "start", false, says})
		at.y -= 1.7 * textHeight
	}
	d.add(line{layer: Notes, points: []vertex{{at.x, at.y + 2}, {at.x, at.y}, {at.x + bar, at.y}, {at.x + bar, at.y + 2}}})
}
