package chart

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"
)

// lightness is the CIE L* of a colour, 0 to 100 (CIE 15; sRGB luminance by
// IEC 61966-2-1).
func lightness(c Ink) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	y := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// A palette keeps its order in grey, by steps that can be seen.
func TestPalettesAreReadableInGrey(t *testing.T) {
	for name, cs := range map[string][]Ink{"age": ages(33), "deviation": deviations(33)} {
		way := math.Copysign(1, lightness(cs[32])-lightness(cs[0]))
		for i := 1; i < len(cs); i++ {
			if d := way * (lightness(cs[i]) - lightness(cs[i-1])); d < 1 {
				t.Errorf("%s: lightness changes by %.2f from colour %d to the next", name, d, i-1)
			}
		}
		if d := math.Abs(lightness(cs[32]) - lightness(cs[0])); d < 45 {
			t.Errorf("%s: lightness runs through %.0f only", name, d)
		}
	}
	middle := deviations(33)[16]
	if max(middle.R, middle.G, middle.B)-min(middle.R, middle.G, middle.B) > 4 {
		t.Errorf("no deviation is %v, not a grey", middle)
	}
	for i := range 32 {
		if l := lightness(deviations(33)[i]); l > 92 {
			t.Errorf("colour %d, lightness %.0f, passes for the white of a beat not heard", i, l)
		}
	}
}

// The inks that may lie on each other differ in grey.
func TestInksAreReadableInGrey(t *testing.T) {
	for _, c := range []struct {
		a, b  Ink
		least float64
	}{
		{dark, pale, 50}, {dark, wash, 50}, {rust, dark, 15}, {pale, wash, 7}, {middle, pale, 15}, {muted, wash, 40},
	} {
		if d := math.Abs(lightness(c.a) - lightness(c.b)); d < c.least {
			t.Errorf("%v and %v: lightness differs by %.0f, want %.0f", c.a, c.b, d, c.least)
		}
	}
}

func TestReduceKeepsFewColours(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range 1200 {
		img.SetRGBA(i%40, i/40, color.RGBA{uint8(8 * (i % 32)), 7, 9, 255})
	}
	out := reduce(img)
	for i := range 1200 {
		if got, want := out.At(i%40, i/40), img.RGBAAt(i%40, i/40); got != want {
			t.Fatalf("dot %d is %v, want %v", i, got, want)
		}
	}
}

func TestReduceOfManyColours(t *testing.T) {
	f := Rate(sampleRun(480, 60))
	img := f.raster()
	out := reduce(img)
	if len(out.Palette) > 256 {
		t.Fatalf("%d colours", len(out.Palette))
	}
	sum, n := 0.0, 0.0
	for i := 0; i < len(out.Pix); i += 7 {
		x, y := i%out.Stride, i/out.Stride
		a, b := img.RGBAAt(x, y), out.At(x, y).(color.RGBA)
		n++
		if a == b {
			continue
		}
		d := math.Abs(lightness(Ink(a)) - lightness(Ink(b)))
		if d > 10 {
			t.Fatalf("dot %d, %d is %v, want %v", x, y, b, a)
		}
		sum += d
	}
	if mean := sum / n; mean > 0.03 {
		t.Errorf("lightness differs by %.3f on average", mean)
	}
}

func TestPictureTellsItsResolution(t *testing.T) {
	b := picture(t, Rate(plainRun(1, 2)))
	at := bytes.Index(b, []byte("pHYs"))
	if at != 37 {
		t.Fatalf("pHYs at byte %d, want it after the header, at 37", at)
	}
	x, y := binary.BigEndian.Uint32(b[at+4:]), binary.BigEndian.Uint32(b[at+8:])
	if x != 8504 || y != 8504 || b[at+12] != 1 { // 216 dots / 0.0254 m
		t.Errorf("%d × %d dots, unit %d", x, y, b[at+12])
	}
	if sum := binary.BigEndian.Uint32(b[at+13:]); sum != crc32.ChecksumIEEE(b[at:at+13]) {
		t.Error("wrong checksum")
	}
	if _, err := png.Decode(bytes.NewReader(b)); err != nil {
		t.Error(err)
	}
}
