package chart

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/plot/vg"

	"rundown/analysis"
	"rundown/analysis/contacts"
	"rundown/analysis/prose"
)

// Portrait is the averaged sound of the beats about a moment of the run, in units
// of the room's noise in a single beat, whitened.
type Portrait struct {
	Title string // "full wind", "middle", "near the end"
	contacts.Portrait
}

// rowHeight is what the portraits of one moment take in the picture.
const rowHeight vg.Length = 150

// Beat draws what a beat sounds like: a row for each moment, a panel for each
// side, all aligned on the mark, with the contacts marked and their times. mark
// says in words what the mark is, as in "the middle of the lift"; doubt says why the lift could
// not be told, in words that go on "the lift could not be told: ", empty where it was.
func Beat(h Heading, portraits []Portrait, mark, doubt string) *Figure {
	f := newFigure("The sound of a beat", h)
	f.columns = 2
	f.height = 90 + rowHeight*vg.Length(max(len(portraits), 1))
	if doubt != "" {
		f.note("The lift could not be told: " + doubt + ".")
	}
	f.note("Time runs from " + mark + ". Each panel is the average of many beats; the two of a row share their scale, and rows do not.")
	time, most, unheard := beatSpan(portraits), 0, false
	for _, p := range portraits {
		for _, s := range p.Sides {
			most = max(most, len(s.Contacts))
			unheard = unheard || slices.ContainsFunc(s.Contacts, func(c contacts.Contact) bool { return c.Unheard })
		}
	}
	if unheard {
		f.note("A sound in brackets was not heard on its side: the other side tells where it belongs.")
	}
	for _, p := range portraits {
		loudest := 1e-9
		for _, s := range p.Sides {
			for _, v := range s.Samples {
				loudest = max(loudest, math.Abs(v))
			}
		}
		for i, name := range []string{"tick", "tock"} {
			panel := beatPanel(p.Sides[i], time, loudest, most)
			panel.Title = fmt.Sprintf("%s, %s (%s)", name, p.Title, clock(p.At))
			if p.Lift > 0 && len(p.Sides[i].Samples) > 0 {
				panel.Title += ", lift " + prose.WithError(analysis.Number(1e3*p.Lift), analysis.Number(1e3*p.LiftSE), "ms")
			}
			f.Panels = append(f.Panels, panel)
		}
	}
	if len(portraits) == 0 {
		none := Axis{High: 1}
		f.Panels, f.columns = []*Panel{{X: none, Y: none, Banner: "no beat was heard"}}, 1
		return f
	}
	for i := range f.Panels[0].Series {
		f.Panels[0].Series[i].Name = []string{"sound", "envelope", "contact"}[i]
	}
	return f
}

// beatSpan is the range of time that all sounds lie in, in milliseconds.
func beatSpan(portraits []Portrait) span {
	all := span{math.Inf(1), math.Inf(-1)}
	for _, p := range portraits {
		for _, s := range p.Sides {
			if n := len(s.Samples); n > 0 {
				all = all.including(1e3 * s.Start).including(1e3 * (s.Start + float64(n)*s.Step))
			}
		}
	}
	if all.lo >= all.hi {
		return span{-1, 1}
	}
	return all
}

// beatPanel draws one sound against time in milliseconds, in hundredths of full
// scale, with headroom for what is said of so many contacts.
func beatPanel(s contacts.Sound, time span, loudest float64, most int) *Panel {
	const row = 0.23
	headroom := 1.23 + row*float64(max(most, 4))
	p := &Panel{X: valueAxis("ms", time, 9, true), Y: valueAxis("% of the room, one beat", span{-108 * loudest, 100 * loudest}, 5, false)}
	p.Y.High *= headroom
	wave, hull := Series{Ink: middle, Width: 0.4}, Series{Ink: dark, Width: 0.9}
	for i, v := range envelope(s.Samples) {
		at := 1e3 * (s.Start + float64(i)*s.Step)
		wave.X, wave.Y = append(wave.X, at), append(wave.Y, 100*s.Samples[i])
		hull.X, hull.Y = append(hull.X, at), append(hull.Y, 100*v)
	}
	marks := Series{Ink: rust, Width: 0.6, Dash: []float64{3, 1.5}}
	p.Series = append(p.Series, wave, hull)
	if len(s.Samples) == 0 {
		p.Banner = "too few beats"
		return p
	}
	p.X.Label += ", mean of " + count(s.Beats, "beat")
	for i, c := range s.Contacts {
		at := 1e3 * c.At
		marks.X = append(marks.X, at, at, at)
		marks.Y = append(marks.Y, p.Y.Low, 105*loudest, math.NaN())
		// What is said of each stands over it, one below the other.
		half := 0.265 * time.width()
		if c.Unheard {
			c.Name = "(" + c.Name + ")"
		}
		p.Labels = append(p.Labels, Label{X: span{time.lo + half, time.hi - half}.clamp(at), Y: 100 * loudest * (headroom - 0.13 - row*float64(i)), Text: strings.TrimSpace(c.Name + " " + withError(1e3*c.At, 1e3*c.SE, "ms"))})
	}
	p.Series = append(p.Series, marks)
	return p
}

// envelope is the size of the analytic signal: of the sound and its Hilbert
// transform together (A. V. Oppenheim and R. W. Schafer, "Discrete-Time Signal
// Processing", on complex sequences).
func envelope(samples []float64) []float64 {
	n := len(samples)
	if n == 0 {
		return nil
	}
	fft := fourier.NewCmplxFFT(n)
	spectrum := make([]complex128, n)
	for i, v := range samples {
		spectrum[i] = complex(v, 0)
	}
	fft.Coefficients(spectrum, spectrum)
	for i := range spectrum {
		switch { // positive frequencies count twice, negative ones not at all
		case i > 0 && 2*i < n:
			spectrum[i] *= 2
		case 2*i > n:
			spectrum[i] = 0
		}
	}
	fft.Sequence(spectrum, spectrum)
	hull := make([]float64, n)
	for i, v := range spectrum {
		hull[i] = cmplx.Abs(v) / float64(n)
	}
	return hull
}
