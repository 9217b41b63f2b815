package acquisition

import (
	"fmt"
	"math"

	"github.com/mjibson/go-dsp/spectral"
	"gonum.org/v1/gonum/blas/gonum"
)

// Sound gathers what can be said of a recording as a whole, of the channels
// listened to.
type Sound struct {
	frames  int64
	peak    float64 // greatest magnitude
	energy  float64 // sum of squares
	clipped int64   // samples at full scale
	Turn    float64 // seconds of one turn, where the stretch last searched goes round and round; else 0
}

// FullScale is the magnitude at which a sample counts as clipped.
const FullScale = 0.999

// LeastTurn is how many seconds a turn takes at least that is more than a tone.
const LeastTurn = 0.1

// Add takes in a stretch of samples.
func (s *Sound) Add(x []float32) {
	var low, high float32
	for _, v := range x {
		if v > high {
			high = v
		} else if v < low {
			low = v
		}
	}
	peak := float64(max(high, -low))
	s.frames += int64(len(x))
	s.energy += gonum.Implementation{}.Dsdot(len(x), x, 1, x, 1)
	s.peak = max(s.peak, peak)
	if peak < FullScale {
		return
	}
	for _, v := range x {
		if math.Abs(float64(v)) >= FullScale {
			s.clipped++
		}
	}
}

// Instead says what a recording without a beat holds, from the whole of it and
// a stretch x at a sample rate.
func (s *Sound) Instead(x []float32, rate float64) string {
	n := float64(max(1, s.frames))
	level := 10 * math.Log10(max(s.energy/n, 1e-20))
	switch {
	case s.frames == 0:
		return "The recording is empty."
	case s.peak == 0:
		return "The recording is digital silence: the recorder heard nothing; check its input."
	case s.peak < 1e-3:
		return fmt.Sprintf("The recording is too quiet: its peak is %.0f dBFS; raise the recording level.", 20*math.Log10(s.peak))
	case float64(s.clipped) > 1e-3*n:
		return fmt.Sprintf("The recording is clipped, %.1f %% of it; lower the recording level.", 100*float64(s.clipped)/n)
	case s.Turn > LeastTurn:
		return fmt.Sprintf("The same %.2f s of sound go round and round, to the sample, and hold no steady beat; analyse what the microphone heard.", s.Turn)
	case low(x, rate) > 0.95:
		return fmt.Sprintf("Hum or rumble at %.0f dBFS, and no steady beat above it; keep away from mains wiring and motors.", level)
	}
	return fmt.Sprintf("Sounds without a steady beat, at %.0f dBFS; bring the microphone to the movement.", level)
}

// low returns which part of the power lies below 400 Hz.
func low(x []float32, rate float64) float64 {
	samples := make([]float64, min(len(x), 5*int(rate)))
	for i := range samples {
		samples[i] = float64(x[i])
	}
	p, hz := spectral.Pwelch(samples, rate, &spectral.PwelchOptions{NFFT: 4096, Noverlap: 2048})
	var below, all float64
	for i, v := range p {
		all += v
		if hz[i] < 400 {
			below += v
		}
	}
	return below / max(all, 1e-30)
}
