package chart

import "math"

// lab is a colour of the Oklab space: lightness l from 0 (black) to 1 (white),
// a towards red, b towards yellow.
type lab struct{ l, a, b float64 }

// The anchors of the two palettes. Both run through lightness in one
// direction, so that they keep their order in grey.
var (
	// ageAnchors runs from dark blue through green to straw.
	ageAnchors = []lab{{0.28, 0.00, -0.11}, {0.45, -0.06, -0.05}, {0.62, -0.09, 0.04}, {0.80, -0.02, 0.13}}
	// deviationAnchors has its neutral grey in the middle, and as much colour
	// on either side of it: light blue before, dark red after.
	deviationAnchors = []lab{{0.90, -0.05, -0.05}, {0.58, 0, 0}, {0.26, 0.09, 0.05}}
)

// ramp returns n colours, n at least 2, evenly spaced along the anchors.
func ramp(anchors []lab, n int) []Ink {
	colours := make([]Ink, n)
	for i := range colours {
		at := float64(i) / float64(n-1) * float64(len(anchors)-1)
		k := min(int(at), len(anchors)-2)
		colours[i] = anchors[k].towards(anchors[k+1], at-float64(k)).rgb()
	}
	return colours
}

// towards returns the colour a share f of the way to d.
func (c lab) towards(d lab, f float64) lab {
	return lab{c.l + f*(d.l-c.l), c.a + f*(d.a-c.a), c.b + f*(d.b-c.b)}
}

// rgb converts to sRGB. Colours that sRGB doesn't have are clipped. Matrices:
// B. Ottosson, "A perceptual color space for image processing" (2020).
func (c lab) rgb() Ink {
	l := cube(c.l + 0.3963377774*c.a + 0.2158037573*c.b)
	m := cube(c.l - 0.1055613458*c.a - 0.0638541728*c.b)
	s := cube(c.l - 0.0894841775*c.a - 1.2914855480*c.b)
	return Ink{
		R: gamma(+4.0767416621*l - 3.3077115913*m + 0.2309699292*s),
		G: gamma(-1.2684380046*l + 2.6097574011*m - 0.3413193965*s),
		B: gamma(-0.0041960863*l - 0.7034186147*m + 1.7076147010*s),
		A: 0xff,
	}
}

func cube(x float64) float64 { return x * x * x }

// gamma encodes linear light from 0 to 1 as IEC 61966-2-1 (sRGB) does.
func gamma(x float64) uint8 {
	x = min(max(x, 0), 1)
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * x))
}
