package chart

import (
	"image/color"
	"slices"

	"gonum.org/v1/plot/palette"
	"gonum.org/v1/plot/palette/moreland"
)

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
