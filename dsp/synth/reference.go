package synth

import (
	"math"
	"math/rand/v2"
)

// reference renders a signal of known frequency.
type reference struct {
	Reference
	clock Recorder
	wave  *wave   // of a tick or pulse
	gain  float64 // brings its peak to the wanted one
	rng   *rand.Rand
	next  float64 // true time of the next tick, without scatter
	phase float64 // of a tone at true time 0, turns
	shots shots
}

func newReference(r Recorder, seed uint64) *reference {
	rng := stream(seed, referenceStream)
	ref := &reference{Reference: r.Reference, clock: r, rng: rng}
	rate := float64(r.SampleRate)
	ref.phase = rng.Float64()
	ref.next = ref.phase / ref.Hz
	ref.gain = decibels(ref.Level)
	switch ref.Kind {
	case "tick":
		hz := min(2500, rate/5)
		ref.wave = newWave([]mode{{1, 1 / 1.5e-3, hz}, {-0.7, 1 / 0.8e-3, 1.7 * hz}}, rate)
	case "pulse":
		// A flank through a coupling capacitor: e^(−t/τ), whose transform is
		// 1 / (1/τ + j2πf).
		const tau = 4e-3
		ref.wave = sampleWave(func(f float64) complex128 { return 1 / complex(1/tau, 2*math.Pi*f) }, 9*tau, rate)
	default:
		return ref
	}
	ref.gain /= ref.wave.peak()
	return ref
}

// lost reports whether the reference is lost at true time t.
func (r *reference) lost(t float64) bool { return t >= r.LostAt && t < r.LostAt+r.LostFor }

// add adds to dst, whose first sample is frame start.
func (r *reference) add(dst []float32, start int64) {
	if r.wave == nil {
		r.addTone(dst, start)
		return
	}
	end := start + int64(len(dst))
	for r.clock.frame(r.next-8*r.Scatter)-lead-1 < float64(end) {
		at := r.next + r.Scatter*r.rng.NormFloat64()
		if !r.lost(r.next) {
			r.shots = append(r.shots, r.wave.at(r.clock.frame(at), r.gain))
		}
		r.next += 1 / r.Hz
	}
	r.shots.add(dst, start)
}

// addTone adds a sine whose phase follows true time; within a chunk the clock
// is taken to be steady.
func (r *reference) addTone(dst []float32, start int64) {
	t := r.clock.instant(float64(start))
	step := (r.clock.instant(float64(start+int64(len(dst)))) - t) / float64(len(dst))
	if r.lost(t) {
		return
	}
	_, turns := math.Modf(t*r.Hz + r.phase)
	tone := newTone(r.gain, r.Hz*step, 2*math.Pi*turns, 1)
	tone.add(dst)
}
