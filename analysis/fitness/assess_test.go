package fitness

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// Sound is spoiled at sampleRate. What a recording is good for is forecast and what was
// taken from it by compression is told at fullRate, Hz.
const sampleRate, fullRate = 24000, 48000

// seconds is how long one listens: less than half a minute, to be quick.
const seconds = 21

// samples renders what one listens to.
func samples(t testing.TB, rec synth.Recording) []float32 {
	t.Helper()
	rec.Duration = seconds
	src := rec.Render()
	x := make([]float32, seconds*src.Format().SampleRate)
	if n, err := src.Read([][]float32{x}); n != len(x) {
		t.Fatal(n, err)
	}
	return x
}

// set is a set-up with which nothing is wrong.
func set(seed uint64, bph float64) synth.Recording {
	return synth.Recording{Seed: seed, Movement: synth.Movement{BeatsPerHour: bph, Rate: 3, BeatError: 4e-4}, Room: synth.Room{Noise: "pink", SNR: 34}, Recorder: synth.Recorder{SampleRate: sampleRate}}
}

// assess listens to samples, stored in 16 bits as a recorder does.
func assess(t testing.TB, x []float32, rate int) *Report {
	t.Helper()
	stored := make([]float32, len(x))
	for i, v := range x {
		stored[i] = float32(math.Round(math.Max(-1, math.Min(float64(v), 32767./32768))*32768) / 32768)
	}
	r, err := Assess(t.Context(), wavio.FromSamples(rate, stored), seconds, analysis.Options{LiftAngle: 52})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// scaled changes every sample.
func scaled(x []float32, gain func(i int, v float64) float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(float64(v) * gain(i, float64(v)))
	}
	return out
}

func times(k float64) func(int, float64) float64 { return func(int, float64) float64 { return k } }

// gate opens at a level, for a while, and lets through so much when it is closed.
func gate(level, seconds, closed float64) func(int, float64) float64 {
	open := 0
	return func(_ int, v float64) float64 {
		if math.Abs(v) > level {
			open = int(seconds * sampleRate)
		}
		if open--; open > 0 {
			return 1
		}
		return closed
	}
}

// automatic is a gain that gives way at once and recovers by e in so many seconds.
func automatic(seconds float64) func(int, float64) float64 {
	follow := 0.02
	return func(_ int, v float64) float64 {
		follow = math.Max(math.Abs(v), follow*math.Exp(-1/(seconds*sampleRate)))
		return 0.05 / math.Max(follow, 0.005)
	}
}

func added(x, y []float32, k float32) []float32 {
	out := slices.Clone(x)
	for i := range out {
		out[i] += k * y[i]
	}
	return out
}

func tone(hz, level float64) []float32 {
	out := make([]float32, seconds*sampleRate)
	for i := range out {
		out[i] = float32(level * math.Sin(2*math.Pi*hz*float64(i)/sampleRate))
	}
	return out
}

// Whatever was done to a recording is named, and little else. TestHum has hum, and a room
// alone.
func TestSpoiled(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: it listens to many recordings")
	}
	good := samples(t, set(1, 18000))
	narrow := set(1, 18000)
	narrow.Recorder.SampleRate = 8000
	lost := slices.Clone(good)
	clear(lost[10*sampleRate : 10*sampleRate+sampleRate/4])
	for name, c := range map[string]struct {
		x    []float32
		rate int
		want Reason
	}{
		"clipped":            {scaled(good, times(8)), sampleRate, Clipped},
		"clipped, then less": {scaled(scaled(scaled(good, times(8)), clip), times(0.5)), sampleRate, Clipped},
		"too loud":           {scaled(good, times(3.4)), sampleRate, TooLoud},
		"too quiet":          {scaled(good, times(0.008)), sampleRate, TooQuiet},
		"gated":              {scaled(good, gate(0.08, 0.03, 0)), sampleRate, Gated},
		"gated softly":       {scaled(good, gate(0.08, 0.06, 0.05)), sampleRate, Gated},
		"automatic gain":     {scaled(good, automatic(0.2)), sampleRate, MovingGain},
		"a gain that drifts": {scaled(good, func(i int, _ float64) float64 { return math.Pow(10, 0.2*math.Sin(float64(i)/sampleRate)) }), sampleRate, MovingGain},
		"two clocks":         {added(good, samples(t, set(2, 21600)), 0.5), sampleRate, SecondBeat},
		"two of one count":   {added(good, samples(t, synth.Recording{Seed: 3, Movement: synth.Movement{Rate: 90}, Room: synth.Room{SNR: 40}, Recorder: synth.Recorder{SampleRate: sampleRate}}), 0.6), sampleRate, SecondBeat},
		"a telephone's rate": {samples(t, narrow), 8000, NarrowBand},
		"deep in the room":   {samples(t, synth.Recording{Seed: 4, Room: synth.Room{SNR: 3}, Recorder: synth.Recorder{SampleRate: sampleRate}}), sampleRate, NoBeat},
		"lost samples":       {lost, sampleRate, LostSamples},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if r := assess(t, c.x, c.rate); !slices.Contains(r.Reasons, c.want) || len(r.Reasons) > 2 {
				t.Errorf("%q, not %q: %+v", r.Reasons, c.want, r)
			}
		})
	}
}

// Hum that is louder than the beats is advice where it takes nothing from them, and a
// reason where it does.
func TestHum(t *testing.T) {
	good := samples(t, set(1, 18000))
	room := scaled(samples(t, synth.Quiet("pink", 1, seconds, sampleRate)), times(0.01))
	for name, c := range map[string]struct {
		x       []float32
		reasons []Reason
		advice  []Reason
	}{
		"a faint one":            {added(good, tone(50, 0.01), 1), nil, nil},
		"louder than the beats":  {added(good, tone(50, 0.4), 1), nil, []Reason{Hum}},
		"up to full scale":       {added(good, tone(50, 0.6), 1), []Reason{Hum}, nil},
		"nothing but hum":        {added(room, tone(50, 0.2), 1), []Reason{NoBeat, Hum}, nil},
		"nothing, and faint hum": {added(room, tone(50, 0.002), 1), []Reason{NoBeat}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := assess(t, c.x, sampleRate)
			if !slices.Equal(r.Reasons, c.reasons) || !slices.Equal(r.Advice, c.advice) {
				t.Errorf("reasons %q, advice %q; want %q and %q: hum of %.1f dBFS", r.Reasons, r.Advice, c.reasons, c.advice, r.LowNoise)
			}
		})
	}
}

func clip(_ int, v float64) float64 { return math.Min(1, 0.9/math.Abs(v)) }

// Sound that went through MP3 is told by what is missing.
func TestLossy(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: it listens to many recordings")
	}
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("skipped: ffmpeg is not installed")
	}
	rec := set(1, 18000)
	rec.Recorder.SampleRate = fullRate
	good := samples(t, rec)
	var wav bytes.Buffer
	w, err := wavio.NewWriter(&wav, wavio.Format{SampleRate: fullRate, Channels: 1, BitsPerSample: 16, Frames: int64(len(good))})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write([][]float32{good}); err != nil {
		t.Fatal(err)
	}
	for _, speed := range []string{"64k", "128k"} {
		small, back := filepath.Join(t.TempDir(), "x.mp3"), filepath.Join(t.TempDir(), "x.wav")
		there := exec.Command(path, "-v", "error", "-i", "-", "-b:a", speed, small)
		there.Stdin = bytes.NewReader(wav.Bytes())
		for _, cmd := range []*exec.Cmd{there, exec.Command(path, "-v", "error", "-i", small, back)} {
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Skipf("skipped: ffmpeg makes no MP3 here: %s", out)
			}
		}
		src, err := wavio.Open(back)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Assess(t.Context(), src, seconds, analysis.Options{})
		src.Close()
		if err != nil || !slices.Contains(r.Reasons, Lossy) {
			t.Errorf("%s: %+v, error %v", speed, r, err)
		}
	}
}

// A set-up with which nothing is wrong is called fit, and the forecast is what an
// hour of it gives. TestHum has one of 18 000 an hour.
func TestGood(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: it listens to many recordings")
	}
	for seed, bph := range map[uint64]float64{6: 28800, 7: 7200, 8: 21600} {
		rec := set(seed, bph)
		rec.Recorder.SampleRate = fullRate
		rec.Room.SNR = 24 + 2*float64(seed)
		if seed == 8 { // uneven escape teeth
			rec.Movement.Modulations = []synth.Modulation{{Period: 30, PeakToPeak: 2e-4}}
		}
		r := assess(t, samples(t, rec), fullRate)
		if !r.Fit() || math.Abs(float64(r.PerHour)/bph-1) > 1e-3 || !r.LiftTold || !r.Forecast.Degrees {
			t.Errorf("%g an hour: %+v", bph, r)
		}
		rec.Duration = 121
		long, err := analysis.Run(t.Context(), rec.Render(), analysis.Options{Window: 60, Tolerance: 10}, &heard{})
		if err != nil {
			t.Fatal(err)
		}
		q := float64(r.Forecast.Minute) / long.Windows[1].Rate.SE
		t.Logf("%g an hour: forecast over what comes of it %.2f", bph, q)
		if !(q > 1/1.5 && q < 1.5) {
			t.Errorf("%g an hour: %.2g s/day a minute is forecast, and %.2g come of it", bph, r.Forecast.Minute, long.Windows[1].Rate.SE)
		}
	}
}

// Hesitations cut a line into pieces, of which each tells less.
func TestPieces(t *testing.T) {
	s := stretch{jitter: 1e-4, interval: 0.2, seconds: 30, pieces: []int{150}}
	want := 86400 / 0.2 * 1e-4 * math.Sqrt(12/(300.*(300*300-1)))
	if got := s.slopeError(60); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("in one piece %g, not %g", got, want)
	}
	s.pieces = []int{50, 60, 40}
	if got := s.over(60); !slices.Equal(got, []int{50, 60, 90, 60, 40}) {
		t.Errorf("pieces %v", got)
	}
	if got := s.over(15); !slices.Equal(got, []int{50, 25}) {
		t.Errorf("pieces %v", got)
	}
	h := heard{shifts: []int64{3, 8}}
	for i := range int64(10) {
		row := analysis.Row{}
		row.Index, row.Heard = i, i != 5
		h.beats = append(h.beats, row)
	}
	if got := h.pieces(); !slices.Equal(got, []int{3, 4, 2}) {
		t.Errorf("pieces heard %v", got)
	}
}

// A forecast takes of what is not known of the lift's change what a long run leaves of it.
func TestForecastOfALongRun(t *testing.T) {
	r := &analysis.Result{Windows: []rate.Window{{Heard: 150, LiftDrift: 1e-5, LeastDrift: 1e-6}}}
	r.Beat.Jitter, r.Beat.Period, r.Beat.Last = 1e-5, 0.4, 30
	var h heard
	for i := range int64(150) {
		row := analysis.Row{Beat: beat.Beat{Index: i, Heard: true}, Residual: math.NaN()}
		h.beats = append(h.beats, row)
	}
	scatter := 86400 / 0.2 * 1e-5 * math.Sqrt(12/(300.*(300*300-1)))
	if got, want := float64(forecast(r, &h).Minute), math.Hypot(scatter, 86400*1e-6); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("%g s/day, want %g", got, want)
	}
}

// TestScatterWithoutTheWheel: of half a minute with five turns of an escape wheel, the
// scatter is told without what comes round; of beats with no wheel, nothing is.
func TestScatterWithoutTheWheel(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, c := range []struct{ uneven, thrice float64 }{{70e-6, 0}, {70e-6, 400e-6}, {0, 0}} { // s; thrice in a turn
		var h heard
		uneven := c.uneven
		wheel := make([]float64, 30)
		for i := range wheel {
			wheel[i] = uneven*rng.NormFloat64() + c.thrice*float64(i%10-5)
		}
		for i := range int64(150) {
			h.beats = append(h.beats, analysis.Row{Beat: beat.Beat{Index: i}, Residual: wheel[i%30] + 20e-6*rng.NormFloat64()})
		}
		if got := h.scatter(); uneven > 0 && math.Abs(got/20e-6-1) > 0.2 || uneven == 0 && !math.IsInf(got, 1) {
			t.Errorf("teeth uneven by %g s: %g s, want 20 µs", c, got)
		}
	}
}
