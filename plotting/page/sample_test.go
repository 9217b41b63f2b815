package page

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/plotting/chart"
)

// sampleRun is a run of so many windows of a minute, with a fault of the escape
// wheel, a stop near its end, and so many clips of a second.
func sampleRun(t testing.TB, windows, clips int, name string) Run {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(windows), 7))
	end := 60 * float64(windows)
	r := Run{Result: &analysis.Result{AmplitudeKind: rate.Degrees, Faults: &fault.Collector{}}}
	turns := fault.Map{Columns: 30, Rows: windows * 10, TurnsPerRow: 1}
	for i := range windows {
		u := float64(i) / float64(windows)
		smooth := 4 + 9*math.Exp(-12*u) - 70*math.Pow(u, 14)
		r.Windows = append(r.Windows, rate.Window{
			Start: 60 * float64(i), End: 60 * float64(i+1), Beats: 300, Heard: 300,
			Rate: rate.Value{X: smooth + 0.4*rng.NormFloat64(), SE: 0.4}, Smoothed: rate.Value{X: smooth, SE: 0.1},
			Period:    rate.Value{X: 0.4 / (1 + smooth/86400), SE: 2e-6},
			BeatError: rate.Value{X: 4e-4 + 2e-5*rng.NormFloat64(), SE: 2e-5},
			Amplitude: rate.Value{X: 285 - 40*u, SE: 1}, Jitter: 3e-5,
		})
	}
	for b := range int64(windows * 300) {
		deviation := 3e-5 * rng.NormFloat64()
		if b%30 == 20 && rng.Float64() < 0.1 {
			deviation += 4e-3
			start := float64(b) / 5
			r.Events = append(r.Events, beat.Event{Kind: beat.Late, Beat: b, Start: start, End: start, Shift: 4e-3 * (1 + 0.1*rng.Float64())})
		}
		turns.Values = append(turns.Values, float32(deviation))
	}
	r.Events = append(r.Events, beat.Event{Kind: beat.Stop, Beat: int64(windows*300) - 1, Start: end - 0.5, End: end, Note: "to the end of the recording"})
	if band, ok := rate.StableBand(r.Windows, 10); ok {
		r.Band = &band
	}
	r.Summary = sampleSummary(r, name, end)
	r.addClips(clips)
	for tau := 8.0; tau < end/4; tau *= 2 {
		a := 1e-5 / math.Sqrt(tau)
		r.ClockFloor = append(r.ClockFloor, analysis.ClockFloor{Tau: tau, Sigma: 1e-8})
		r.Stabilities = append(r.Stabilities, rate.Stability{Tau: tau, Allan: a, AllanLow: 0.8 * a, AllanHigh: 1.3 * a, AllanFloor: 1e-5 / math.Pow(tau, 1.5)})
	}
	r.Pictures = samplePictures(t, r, name, turns)
	return r
}

// samplePictures are charts of every kind, all with the picture of the rate.
func samplePictures(t testing.TB, r Run, name string, turns fault.Map) []Picture {
	t.Helper()
	show := sampleCharts(r, name)
	wheel := chart.Turn{Arbor: "escape wheel", Beats: 30, Teeth: 15, Turns: 100, Mean: make([]rate.Value, 30)}
	var starts []float64
	for row := range turns.Rows + 1 {
		starts = append(starts, 6*float64(row))
	}
	pictures := []Picture{
		{Role: "rate", Figure: chart.Rate(show)}, {Role: "period", Figure: chart.Period(show)},
		{Role: "amplitude", Figure: chart.Amplitude(show)}, {Role: "beat-error", Figure: chart.BeatError(show)},
		{Role: "beat", Figure: chart.Beat(show.Heading, nil, "the middle of the lift", "")},
		{Role: "hesitations", Figure: chart.Hesitations(show, nil, wheel)},
		{Role: "map", Figure: chart.Map(show.Heading, turns, starts, 15, nil)},
		{Role: "stability", Figure: chart.Stability(show.Heading, r.Stabilities)},
		{Role: "turn-1-escape-wheel", Figure: chart.Fold(show.Heading, wheel, nil)},
	}
	var png bytes.Buffer
	if err := pictures[0].Figure.WritePNG(&png); err != nil {
		t.Fatal(err)
	}
	for i := range pictures {
		pictures[i].PNG = png.Bytes()
	}
	return pictures
}

// sampleCharts is what the charts of a run show.
func sampleCharts(r Run, name string) chart.Run {
	return chart.Run{Heading: chart.Heading{Name: filepath.Base(name), Nominal: 18000}, Windows: r.Windows, Band: r.Band, Kind: rate.Degrees, Events: r.Events}
}

func sampleSummary(r Run, name string, end float64) analysis.Summary {
	s := analysis.Summary{
		Schema: analysis.Schema, Status: analysis.OK,
		Recording: analysis.Recording{Paths: []string{name}, SampleRate: 8000, Channels: 1, BitsPerSample: 16, Duration: analysis.Number(end), Problems: []string{}},
		Beat: analysis.Beat{Nominal: 18000, Source: rate.FromTrain, Measured: 18001, Period: 0.4, Jitter: 3e-5, First: 0.1, Last: analysis.Number(end - 0.5),
			Counted: int64(end * 5), Heard: int64(end*5) - 7, Mark: analysis.MidLift},
		Ending:     &analysis.Ending{Last: analysis.Number(end - 0.5), Stops: 1},
		Rate:       analysis.Rate{Mean: 5, SE: 0.01, First: 13, FirstSE: 0.2, Last: -40, LastSE: 2, Spread: 53, Lost: 0.04},
		BeatError:  analysis.BeatError{Mean: 0.4, SE: 0.001},
		Amplitude:  analysis.Amplitude{Kind: "degrees", Mean: 260, SE: 0.1, First: 285, Last: 245},
		StableBand: analysis.StableBand{Tolerance: 10},
		Events:     map[beat.Kind]int{beat.Late: len(r.Events) - 1, beat.Stop: 1},
		Recurrences: []analysis.Recurrence{{Kind: "events", PeriodBeats: 30, PhaseBeats: 20, Occurrences: 12, Opportunities: 100,
			Size: 4, PValue: 3e-5, Match: "escape wheel, one turn", Note: "note"}},
		Clips: []analysis.ClipFile{},
	}
	if b := r.Band; b != nil {
		s.StableBand = analysis.StableBand{Found: true, Tolerance: 10, Start: analysis.Number(b.Start), End: analysis.Number(b.End),
			Mean: analysis.Number(b.Mean.X), SE: analysis.Number(b.Mean.SE), Spread: analysis.Number(b.Spread)}
	}
	return s
}

// addClips gives the first events sounds: a beat a second, at 8 kHz.
func (r *Run) addClips(n int) {
	for i, ev := range r.Events[:min(n, len(r.Events))] {
		samples := make([]int16, 8000)
		for k := range samples {
			samples[k] = int16(8000 * math.Exp(-float64(k%1600)/60) * math.Sin(float64(k)))
		}
		r.Clips = append(r.Clips, analysis.Clip{Event: ev, Start: ev.Start - 0.3, Samples: samples})
		r.Summary.Clips = append(r.Summary.Clips, analysis.ClipFile{File: fmt.Sprintf("clips/%02d-late-beat-%d.wav", i+1, ev.Beat), Kind: ev.Kind, Beat: ev.Beat})
	}
}
