package page

import (
	"math"

	"rundown/analysis"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// part is one of equal parts of the run.
type part struct{ From, To, Rate, Amplitude, BeatError, Heard string }

// mostParts is into how many parts the run is divided for the table.
const mostParts = 8

// parts divides the run into equal numbers of windows.
func parts(r Run) []part {
	n := len(r.Windows)
	count := min(mostParts, n)
	var ps []part
	for i := range count {
		ps = append(ps, newPart(r.Windows[i*n/count:(i+1)*n/count], r.AmplitudeKind))
	}
	return ps
}

func newPart(ws []rate.Window, kind rate.AmplitudeKind) part {
	beats, heard := 0, 0
	for _, w := range ws {
		beats, heard = beats+w.Beats, heard+w.Heard
	}
	share := "–"
	if beats > 0 {
		share = prose.Plain(analysis.Number(100*float64(heard)/float64(beats)), "%")
	}
	scale, unit := amplitudeUnit(kind)
	return part{
		From:      prose.Span(analysis.Number(ws[0].Start)),
		To:        prose.Span(analysis.Number(ws[len(ws)-1].End)),
		Rate:      mean(ws, 1, "s/day", prose.SignedWithError, func(w rate.Window) rate.Value { return w.Rate }),
		Amplitude: mean(ws, scale, unit, prose.WithError, func(w rate.Window) rate.Value { return w.Amplitude }),
		BeatError: mean(ws, 1e3, "ms", prose.SignedWithError, func(w rate.Window) rate.Value { return w.BeatError }),
		Heard:     share,
	}
}

// amplitudeUnit is how amplitudes of a kind are written.
func amplitudeUnit(kind rate.AmplitudeKind) (scale float64, unit string) {
	switch kind {
	case rate.Degrees:
		return 1, "°"
	case rate.LiftTime:
		return 1e3, "ms"
	}
	return 1, "dBFS"
}

// mean writes the mean of a figure of windows that has one, each counting as
// many times as it has beats heard.
func mean(ws []rate.Window, scale float64, unit string, write func(x, se analysis.Number, unit string) string, pick func(rate.Window) rate.Value) string {
	var sum, variance, weight float64
	for _, w := range ws {
		v := pick(w)
		if n := float64(w.Heard); n > 0 && !math.IsNaN(v.X) {
			sum, weight = sum+n*v.X, weight+n
			variance += n * n * v.SE * v.SE
		}
	}
	if weight == 0 {
		return "–"
	}
	return write(analysis.Number(scale*sum/weight), analysis.Number(scale*math.Sqrt(variance)/weight), unit)
}
