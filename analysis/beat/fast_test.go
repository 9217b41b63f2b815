package beat

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"rundown/dsp/wavio"
)

// Whatever is recorded, however short, is answered, and soon.
func TestAnswersAnySound(t *testing.T) {
	const rate = 8000
	still, square := make([]float32, 30*rate), make([]float32, 30*rate)
	for i := range still {
		still[i], square[i] = 0.5, float32(1-2*(i/20%2))
	}
	r := rand.New(rand.NewPCG(5, 6))
	many := make([][]float32, 256)
	for c := range many {
		many[c] = hiss(rate, 0.01, r)
	}
	for name, x := range map[string][][]float32{
		"a constant": {still}, "a square wave": {square}, "0.1 s of it": {square[:800]}, "one sample": {still[:1]}, "256 channels": many,
	} {
		began := time.Now()
		_, report := run(t, wavio.FromSamples(rate, x...), Options{})
		if report.Found || report.Heard == "" {
			t.Errorf("%s: found is %v, heard %q", name, report.Found, report.Heard)
		}
		if took := time.Since(began); took > 20*time.Second {
			t.Errorf("%s: took %v", name, took)
		}
	}
}

// An interrupt ends a search.
func TestSearchIsInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	x := hiss(110*8000, 0.01, rand.New(rand.NewPCG(7, 8)))
	time.AfterFunc(100*time.Millisecond, cancel)
	began := time.Now()
	_, err := Follow(ctx, wavio.FromSamples(8000, x), Options{}, func(*Batch) error { return nil })
	if took := time.Since(began); err == nil || took > 5*time.Second {
		t.Errorf("%v after %v", err, took)
	}
}
