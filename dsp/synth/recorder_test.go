package synth

import (
	"fmt"
	"math"
	"testing"
)

func TestClock(t *testing.T) {
	r := Recorder{SampleRate: 48000, ClockPPM: 37.5, ClockDrift: 5. / 3}
	near(t, "frames in an hour", r.frame(3600), 48000*3600*(1+(37.5+5./6)*1e-6), 1e-4)
	for _, x := range []float64{0, 1, 3600, 1e5} {
		near(t, "instant of frame", r.instant(r.frame(x)), x, 1e-9)
	}
	src := Recording{Duration: 3600, Recorder: r}.Render()
	near(t, "frames declared", float64(src.Format().Frames), r.frame(3600), 1)
}

func TestSamplesFitTheirWidth(t *testing.T) {
	for _, bits := range []int{8, 16, 24} {
		rec := Recording{Seed: 1, Duration: 2, Recorder: Recorder{Bits: bits, PeakLevel: 3}}
		full := math.Exp2(float64(bits - 1))
		clipped := false
		for _, v := range read(t, rec.Render(), 4096)[0] {
			x := float64(v) * full
			if x != math.Round(x) || x < -full || x > full-1 {
				t.Fatalf("%d bits: %g", bits, x)
			}
			clipped = clipped || x == full-1 || x == -full
		}
		if !clipped {
			t.Errorf("%d bits: a tick 3 dB above full scale is not clipped", bits)
		}
	}
}

// energyCentre returns where the energy of a stretch of samples lies.
func energyCentre(x []float32) float64 {
	var sum, weight float64
	for i, v := range x {
		e := float64(v) * float64(v)
		sum += e * float64(i)
		weight += e
	}
	return sum / weight
}

func TestGaps(t *testing.T) {
	rec := Recording{
		Seed:     8,
		Duration: 30,
		Movement: Movement{Jitter: -1},
		Sound:    Sound{GainScatter: -1},
		Room:     Room{Noise: "none"},
		Recorder: Recorder{Float: true, Faults: []RecorderFault{
			{Kind: "cut", Occasion: Occasion{At: 5}, For: 0.73},
			{Kind: "zeros", Occasion: Occasion{At: 12}, For: 1.1},
		}},
	}
	src := rec.Render()
	sound := read(t, src, 5000)[0]
	near(t, "frames", float64(len(sound)), (30-0.73)*48000, 2)
	near(t, "frames declared", float64(src.Format().Frames), float64(len(sound)), 0)

	truth := rec.Truth()
	var tick float64
	for _, b := range truth.Beats[:len(truth.Beats)-1] {
		inside := b.Time > 4.98 && b.Time < 5.75 || b.Time > 11.98 && b.Time < 13.12
		if b.Covered && !inside {
			t.Errorf("the beat at %g s is covered", b.Time)
		}
		if inside || b.Tock {
			continue
		}
		start := int(b.Frame) - 480
		at := float64(start) + energyCentre(sound[start:start+1440]) - b.Frame
		if tick == 0 {
			tick = at
		}
		near(t, fmt.Sprintf("place of the beat at %g s", b.Time), at, tick, 0.01)
		lost := 0.0
		if b.Time > 5 {
			lost = 0.73
		}
		near(t, "elapsed", b.Elapsed, b.Time-lost, 1e-4)
	}
	for i, e := range kinds(truth, "gap") {
		if want := []string{"cut", "zeros"}[i]; e.Note != want {
			t.Errorf("gap %d is %q, not %q", i, e.Note, want)
		}
	}
	if got := len(kinds(truth, "gap")); got != 2 {
		t.Errorf("%d gaps, not 2", got)
	}
}

func TestReference(t *testing.T) {
	for _, kind := range []string{"tick", "pulse"} {
		clock := Recorder{
			ClockPPM:   100,
			ClockDrift: 500,
			Float:      true,
			Reference:  Reference{Hz: 2, Kind: kind, LostAt: 10, LostFor: 3},
		}
		rec := Recording{Seed: 1, Duration: 30, Room: Room{Noise: "none"}, Recorder: clock}
		x := read(t, rec.Render(), 4096)[1]
		near(t, kind+" peak", 20*math.Log10(greatest(x)), -12, 0.3)
		// Upward crossings of a tenth of the peak, one a pulse, in true time.
		var at []float64
		for i := 1; i < len(x); i++ {
			if last := len(at) - 1; x[i] > 0.025 && (last < 0 || clock.withDefaults().instant(float64(i)) > at[last]+0.1) {
				at = append(at, clock.withDefaults().instant(float64(i)))
			}
		}
		near(t, kind+" pulses", float64(len(at)), 54, 1)
		for i := 1; i < len(at); i++ {
			if step := at[i] - at[i-1]; step < 1 {
				near(t, kind+" interval", step, 0.5, 1.5/48000)
			} else {
				near(t, kind+" hole", step, 3.5, 0.01)
			}
		}
	}
}

func TestReferenceTone(t *testing.T) {
	clock := Recorder{ClockPPM: 80, Float: true, Reference: Reference{Hz: 1000, Kind: "tone"}}
	rec := Recording{Seed: 1, Duration: 20, Room: Room{Noise: "none"}, Recorder: clock}
	x := read(t, rec.Render(), 4096)[1]
	// Phase against a tone of 1000 Hz by the nominal clock, over one second.
	phase := func(start int) float64 {
		var re, im float64
		for i := start; i < start+48000; i++ {
			sin, cos := math.Sincos(2 * math.Pi * 1000 * float64(i) / 48000)
			re += float64(x[i]) * cos
			im += float64(x[i]) * sin
		}
		return math.Atan2(re, im)
	}
	turned := math.Remainder(phase(48000*11)-phase(48000), 2*math.Pi)
	// The clock is fast, hence the tone low: 80e-6 of 10 000 turns.
	near(t, "phase over ten seconds, turns", turned/(2*math.Pi), math.Remainder(-0.8, 1), 2e-3)
}

func TestLeakAndDeadChannel(t *testing.T) {
	rec := Recording{Seed: 1, Duration: 6, Room: Room{Noise: "none"}, Recorder: Recorder{
		Float: true, Channels: 2, Channel: 2, Leak: -20,
		Faults: []RecorderFault{{Kind: "dead", Occasion: Occasion{At: 3}}},
	}}
	x := read(t, rec.Render(), 4096)
	half := 3 * 48000
	near(t, "leak", 20*math.Log10(rms(x[0][:half])/rms(x[1][:half])), -20, 1e-3)
	if rms(x[1][half+100:]) > 3e-3*rms(x[1][:half]) {
		t.Error("the dead channel is heard")
	}
	near(t, "the other channel", rms(x[0][half:])/rms(x[0][:half]), 1, 0.3)
}

func TestMovedMicrophoneHearsOtherSounds(t *testing.T) {
	rec := Recording{Seed: 1, Duration: 6, Movement: Movement{Jitter: -1}, Sound: Sound{GainScatter: -1}, Room: Room{Noise: "none"}}
	rec.Recorder.Float = true
	before := read(t, rec.Render(), 4096)[0]
	rec.Recorder.Faults = []RecorderFault{{Kind: "moved", Occasion: Occasion{At: 3}, Level: -6}}
	after := read(t, rec.Render(), 4096)[0]
	at := 3*48000 - 3000
	for i := range before[:at] {
		if before[i] != after[i] {
			t.Fatal("the sound changes before the microphone is moved")
		}
	}
	late := 4 * 48000
	near(t, "peak", greatest(after[late:])/greatest(before[late:]), 0.5, 0.2)
	var both float64
	for i := late; i < len(before); i++ {
		both += float64(before[i]) * float64(after[i])
	}
	both /= float64(len(before)-late) * rms(before[late:]) * rms(after[late:])
	if math.Abs(both) > 0.5 {
		t.Errorf("the sounds correlate by %g", both)
	}
}

func TestReferenceScatters(t *testing.T) {
	const scatter = 100e-6
	rec := Recording{Seed: 2, Duration: 60, Room: Room{Noise: "none"}}
	rec.Recorder = Recorder{SampleRate: 48000, Float: true, Reference: Reference{Hz: 10, Scatter: scatter}}
	x := read(t, rec.Render(), 4096)[1]
	var centres []float64
	start := int(math.Mod(newReference(rec.withDefaults().Recorder, 2).next, 0.1)*48000) - 480
	for i := start + 4800; i+1920 < len(x); i += 4800 {
		centres = append(centres, energyCentre(x[i:i+1920])/48000)
	}
	var sum, square float64
	for _, c := range centres {
		sum += c
		square += c * c
	}
	n := float64(len(centres))
	near(t, "scatter", math.Sqrt(square/n-sum*sum/n/n), scatter, 4*scatter/math.Sqrt(2*n))
}
