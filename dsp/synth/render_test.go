package synth

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

// spectrum returns the discrete Fourier transform of x below half of Nyquist's
// frequency.
func spectrum(x []float32) []complex128 {
	n := len(x)
	turn := make([]complex128, n)
	for i := range turn {
		sin, cos := math.Sincos(-2 * math.Pi * float64(i) / float64(n))
		turn[i] = complex(cos, sin)
	}
	bins := make([]complex128, n/4)
	for k := range bins {
		for i, v := range x {
			bins[k] += complex(float64(v), 0) * turn[k*i%n]
		}
	}
	return bins
}

// delay returns by how many samples sound b comes after a, from the slope of
// the phase between their spectra, which stays small where both are cut out to
// the sample. n is the length of what was transformed.
func delay(a, b []complex128, n int) float64 {
	var num, den float64
	for k := range a {
		cross := b[k] * complex(real(a[k]), -imag(a[k]))
		w := 2 * math.Pi * float64(k) / float64(n)
		num -= cmplx.Abs(cross) * w * cmplx.Phase(cross)
		den += cmplx.Abs(cross) * w * w
	}
	return num / den
}

func TestOnsetsLieBetweenSamples(t *testing.T) {
	for _, rate := range []int{8000, 44100, 96000} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			rec := Recording{
				Seed:     3,
				Duration: 4,
				Movement: Movement{Rate: 20, BeatError: 1e-3, Jitter: 1e-4},
				Sound:    Sound{GainScatter: -1},
				Room:     Room{Noise: "none"},
				Recorder: Recorder{SampleRate: rate, ClockPPM: 40, Float: true},
			}
			sound := read(t, rec.Render(), 1000)[0]
			n := rate / 60
			cut := func(b Beat) ([]complex128, float64) {
				start := math.Floor(b.Frame) - float64(n)/2
				return spectrum(sound[int(start):][:n]), b.Frame - start
			}
			beats := rec.Truth().Beats
			for side := range 2 {
				first, at := cut(beats[2+side])
				for i := 4 + side; i < len(beats)-2; i += 2 {
					other, otherAt := cut(beats[i])
					near(t, fmt.Sprintf("delay of beat %d", i), delay(first, other, n), otherAt-at, 0.003)
				}
			}
		})
	}
}

func TestSourceKeepsItsContract(t *testing.T) {
	rec := busy(4)
	rec.Recorder.SampleRate = 8000
	wavtest.CheckSource(t, func() wavio.Source { return rec.Render() })
}

// busy is a recording of some seconds in which everything happens.
func busy(duration float64) Recording {
	often := Occasion{PerHour: 3600}
	var r Recording
	r.Seed, r.Duration = 7, duration
	for _, kind := range []string{"late", "early", "missed", "extra", "stop"} {
		r.Movement.Faults = append(r.Movement.Faults, Fault{Kind: kind, Occasion: Occasion{PerHour: 600}, Size: 0.01, Upto: 0.02})
	}
	r.Movement.Recurrences = BadTooth(15, 3, 20, 0.2, 0.005)
	r.Movement.Modulations = []Modulation{{Period: 30, PeakToPeak: 1e-3}}
	for _, kind := range []string{"slam", "lorry", "gust", "knock", "white"} {
		r.Room.Sounds = append(r.Room.Sounds, RoomSound{Kind: kind, Occasion: often, For: 0.3})
	}
	r.Room.HumHz = 50
	r.Recorder.Reference.Hz = 1
	for _, kind := range []string{"cut", "zeros", "gain", "dead", "moved"} {
		r.Recorder.Faults = append(r.Recorder.Faults, RecorderFault{Kind: kind, Occasion: Occasion{PerHour: 600}, For: 0.2, Level: -6})
	}
	return r
}

func TestSNRIsAsDefined(t *testing.T) {
	for _, rate := range []int{16000, 48000, 96000} {
		for _, noise := range []string{"white", "pink"} {
			rec := Recording{
				Seed:     5,
				Duration: 10,
				Movement: Movement{BeatsPerHour: 7200},
				Sound:    Sound{TockLevel: 7, GainScatter: -1},
				Room:     Room{Noise: noise, SNR: 18},
				Recorder: Recorder{SampleRate: rate, Float: true},
			}
			mixed := read(t, rec.Render(), 4096)[0]
			rec.Room.Noise = "none"
			clean := read(t, rec.Render(), 4096)[0]
			near(t, "peak in dBFS", 20*math.Log10(greatest(clean)), -12, 0.15)
			for i := range mixed {
				mixed[i] -= clean[i]
			}
			// A plain sum over a discrete Fourier transform of the first samples,
			// from 1.5 to 16 kHz.
			band := bandRMS(mixed[:4096], float64(rate))
			got := 20 * math.Log10(greatest(clean)/band)
			near(t, fmt.Sprintf("SNR with %s noise at %d Hz", noise, rate), got, 18, 0.5)
		}
	}
}

// bandRMS sums the squared discrete Fourier transform from 1.5 to 16 kHz.
func bandRMS(x []float32, rate float64) float64 {
	n := len(x)
	sin, cos := make([]float64, n), make([]float64, n)
	for i := range sin {
		sin[i], cos[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	var power float64
	for k := int(1500 / rate * float64(n)); k <= min(int(16000/rate*float64(n)), n/2); k++ {
		var re, im float64
		for i, v := range x {
			re += float64(v) * cos[k*i%n]
			im += float64(v) * sin[k*i%n]
		}
		power += 2 * (re*re + im*im)
	}
	return math.Sqrt(power) / float64(n)
}

func BenchmarkRenderTenMinutes(b *testing.B) {
	buf := [][]float32{make([]float32, 1<<15)}
	for b.Loop() {
		src := Recording{Seed: 1}.Render()
		for {
			if _, err := src.Read(buf); err != nil {
				break
			}
		}
	}
}

// peakNear returns the greatest deflection within 40 ms about a true time, in
// dB above that of the tick.
func peakNear(x []float32, at float64) float64 {
	i := int(at * 192000)
	return 20*math.Log10(greatest(x[i-7680:i+7680])) + 12
}

func TestSoundIsAsLoudAsTheTruth(t *testing.T) {
	rec := Recording{Seed: 3, Duration: 20, Room: Room{Noise: "none"}}
	// At 48 kHz a peak between two samples is up to 1 dB higher than either.
	rec.Recorder = Recorder{SampleRate: 192000, Float: true}
	rec.Movement.Faults = []Fault{
		{Kind: "extra", Occasion: Occasion{PerHour: 3600}, Level: -3},
		{Kind: "missed", Occasion: Occasion{PerHour: 1800}, Beats: 2},
	}
	rec.Sound.TockLevel = -15
	x := read(t, rec.Render(), 4096)[0]
	truth := rec.Truth()
	for _, b := range truth.Beats[1 : len(truth.Beats)-1] {
		got := peakNear(x, b.Time)
		if b.Audible {
			near(t, fmt.Sprintf("level of beat %d", b.Index), got, b.Level, 0.3)
		} else if got > -60 {
			t.Errorf("missed beat %d is heard at %g dB", b.Index, got)
		}
		if want := -15.; b.Tock {
			near(t, "level of tock", b.Level, want, 4)
		}
	}
	extras := kinds(truth, "extra")
	for _, e := range extras {
		want := -3.
		if truth.Beats[e.Beat].Tock {
			want = -18
		}
		near(t, "level of an extra sound", e.Level, want, 1e-9)
		near(t, "its loudness", peakNear(x, e.Start), e.Level, 0.3)
	}
	if missed := kinds(truth, "missed"); len(extras) < 10 || len(missed) < 4 || missed[0].End > missed[1].Start {
		t.Errorf("%d extra sounds; beats missed: %v", len(extras), missed)
	}
}
