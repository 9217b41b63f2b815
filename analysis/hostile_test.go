package analysis

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"rundown/analysis/beat"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// noise returns n samples of noise, up to a level.
func noise(n int, level float32) []float32 {
	r := rand.New(rand.NewPCG(11, uint64(n)))
	x := make([]float32, n)
	for i := range x {
		x[i] = level * (2*r.Float32() - 1)
	}
	return x
}

// constant returns n samples of a level.
func constant(n int, level float32) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = level
	}
	return x
}

// wave returns n samples of a sine of a level and a period in samples.
func wave(n int, level, period float64) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(level * math.Sin(2*math.Pi*float64(i)/period))
	}
	return x
}

// Whatever a recording holds, and however little, it is analysed in little time of the
// processor: that by the clock tells how busy the machine is.
func TestAnySoundIsAnalysedSoon(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: sound that is long to search")
	}
	const rate, patience = 16000, 10 * time.Second
	sounds := map[string][][]float32{
		"constant":                {constant(2*rate, 1)},
		"constant within noise":   {append(append(noise(5*rate, 0.1), constant(rate, 1)...), noise(6*rate, 0.1)...)},
		"nearly constant":         {append(constant(20*rate, 1), noise(rate/25, 1)...)},
		"slow waves":              {append(wave(20*rate, 0.01, 2*rate), noise(20*rate, 0.005)...)},
		"thousands of channels":   {},
		"hundreds, for some time": {},
	}
	for _, frames := range []int{0, 1, 15, 16, 160, 1600, 4800, 7680, 8000, 8001, 9600} {
		sounds[fmt.Sprint(frames, " frames")] = [][]float32{noise(frames, 0.5)}
	}
	for range 4000 {
		sounds["thousands of channels"] = append(sounds["thousands of channels"], noise(1000, 0.5))
	}
	for range 200 {
		sounds["hundreds, for some time"] = append(sounds["hundreds, for some time"], noise(2*rate, 0.5))
	}
	for name, channels := range sounds {
		t.Run(name, func(t *testing.T) {
			start := processorTime(t)
			r, err := Run(t.Context(), wavio.FromSamples(rate, channels...), settings(), &table{})
			if err != nil || r.Status != NoBeat {
				t.Errorf("status %v, error %v", r, err)
			}
			took := processorTime(t) - start
			t.Logf("%v of the processor", took)
			if took > patience {
				t.Errorf("took %v of the processor, not %v", took, patience)
			}
		})
	}
}

// ending is a Source that ends a context once a number of frames was read.
type ending struct {
	wavio.Source
	left int
	end  func()
}

func (s *ending) Read(dst [][]float32) (int, error) {
	n, err := s.Source.Read(dst)
	if s.left -= n; s.left < 0 {
		s.end()
	}
	return n, err
}

// movementSound returns a recording of a healthy movement.
func movementSound(t *testing.T, rate, seconds int) []float32 {
	t.Helper()
	rec := synth.Recording{Seed: 3, Duration: float64(seconds), Room: synth.Room{SNR: 40}}
	rec.Recorder.SampleRate = rate
	x := make([]float32, rate*seconds)
	src := rec.Render()
	for n := 0; n < len(x); {
		k, err := src.Read([][]float32{x[n:]})
		if n += k; err == io.EOF {
			return x[:n]
		} else if err != nil {
			t.Fatal(err)
		}
	}
	return x
}

// An interrupt at any moment ends a run with the context's error.
func TestInterruptedAtAnyMoment(t *testing.T) {
	const rate = 8000
	x := movementSound(t, rate, 60)
	for _, at := range []int{0, 15, 31, 40, 50} {
		ctx, cancel := context.WithCancel(t.Context())
		src := &ending{wavio.FromSamples(rate, x), at * rate, cancel}
		if r, err := Run(ctx, src, settings(), &table{}); !errors.Is(err, context.Canceled) {
			t.Fatalf("interrupted after %d s: %v, %v", at, r, err)
		}
	}
}

// Work that goes on and on does not keep an interrupted run waiting.
func TestPromptly(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	never := make(chan struct{})
	defer close(never)
	stuck := func() (int, error) {
		cancel()
		<-never
		return 1, nil
	}
	if n, err := Promptly(ctx, stuck); n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("stuck: %v, %v", n, err)
	}
	if n, err := Promptly(ctx, func() (int, error) { return 2, io.EOF }); n != 2 || err != io.EOF {
		t.Errorf("done all the same: %v, %v", n, err)
	}
}

// Of more channels than can be heard at once, the first are, and that is said.
func TestMoreChannelsThanAreHeard(t *testing.T) {
	channels := make([][]float32, beat.MostChannels+1)
	for c := range channels {
		channels[c] = noise(8000, 0.1)
	}
	for channel, said := range map[int]bool{0: true, beat.MostChannels + 1: false} {
		opt := settings()
		opt.Channel = channel
		r, err := Run(t.Context(), wavio.FromSamples(8000, channels...), opt, &table{})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(r.Recording.Problems, ""), "first 16 of 17 channels"); got != said {
			t.Errorf("channel %d: problems %q", channel, r.Recording.Problems)
		}
	}
}
