package synth

import (
	"math"
	"sort"
)

// Recorder turns sound into samples.
type Recorder struct {
	SampleRate int     `toml:"sample_rate_hz"`     // nominal; 0 means 48 000
	ClockPPM   float64 `toml:"clock_ppm"`          // error of its clock when it starts, positive when it runs fast and takes more samples in a true second
	ClockDrift float64 `toml:"clock_ppm_per_hour"` // change of that error
	Bits       int     `toml:"bits_per_sample"`    // 0 means 16; samples are rounded and limited to what they can hold
	Float      bool    `toml:"float"`              // samples are floating-point numbers of 32 bits, neither rounded nor limited
	Channels   int     `toml:"channels"`           // 0 means 1, or 2 with a reference
	Channel    int     `toml:"channel"`            // that carries the movement, from 1; 0 means 1
	Leak       float64 `toml:"leak_db"`            // loudness of the movement in the other channels, dB; 0 means none
	PeakLevel  float64 `toml:"peak_dbfs"`          // peak of the louder side's tick at full wind, dB above full scale; 0 means −12

	Reference Reference       `toml:"reference"`
	Faults    []RecorderFault `toml:"fault"`
}

// Reference is a signal of known frequency on a channel of its own.
type Reference struct {
	Hz      float64 `toml:"hz"`         // 0 means that there is none
	Channel int     `toml:"channel"`    // from 1; 0 means the last
	Kind    string  `toml:"kind"`       // "tick", a quartz clock's (the default); "pulse", a steep flank that decays; "tone", a sine
	Scatter float64 `toml:"scatter_s"`  // standard deviation of each tick or pulse about its place
	Level   float64 `toml:"peak_dbfs"`  // its peak, dB above full scale; 0 means −12
	LostAt  float64 `toml:"lost_at_s"`  // true time at which it is lost
	LostFor float64 `toml:"lost_for_s"` // and for how long; 0 means never
}

// RecorderFault is something that befalls the recording.
type RecorderFault struct {
	// Kind is one of:
	// "cut": samples are lost without a trace;
	// "zeros": they are written as zeros;
	// "gain": all channels change by Level;
	// "dead": the movement's channel carries nothing but the converter's noise;
	// "moved": the microphone was moved: other resonances, the movement
	// changes by Level.
	Kind string `toml:"kind"`
	Occasion
	For   float64 `toml:"for_s"`    // duration, seconds; 0 means to the end (cut, zeros: 0.1 s)
	Level float64 `toml:"level_db"` // change of gain, dB
}

func (r Recorder) withDefaults() Recorder {
	if r.SampleRate == 0 {
		r.SampleRate = 48000
	}
	if r.Bits == 0 || r.Float {
		r.Bits = 16
		if r.Float {
			r.Bits = 32
		}
	}
	if r.Channels == 0 {
		r.Channels = 1
		if r.Reference.Hz > 0 {
			r.Channels = 2
		}
	}
	if r.Channel == 0 {
		r.Channel = 1
	}
	if r.Reference.Channel == 0 {
		r.Reference.Channel = r.Channels
	}
	if r.Reference.Kind == "" {
		r.Reference.Kind = "tick"
	}
	setDefault(&r.PeakLevel, -12)
	setDefault(&r.Reference.Level, -12)
	return r
}

// frame returns how many samples the clock has taken at true time t.
func (r Recorder) frame(t float64) float64 {
	return float64(r.SampleRate) * (t + 1e-6*t*(r.ClockPPM+r.ClockDrift/3600*t/2))
}

// instant returns the true time at which the clock takes a sample; it is the
// inverse of frame.
func (r Recorder) instant(frame float64) float64 {
	t := frame / float64(r.SampleRate)
	for range 3 {
		t -= (r.frame(t) - frame) / float64(r.SampleRate)
	}
	return t
}

// lapse is one occurrence of a RecorderFault.
type lapse struct {
	kind       string
	start, end float64 // true seconds
	from, to   int64   // frames that the clock takes within
	level      float64
}

// lapses draws all occurrences of the recorder's faults, in order of start.
// Those that would make a hole within another hole are left out.
func (r Recorder) lapses(seed uint64, duration float64) []lapse {
	var all []lapse
	for i, f := range r.Faults {
		last := f.For
		if f.Kind == "cut" || f.Kind == "zeros" {
			setDefault(&last, 0.1)
		}
		setDefault(&last, math.Inf(1))
		c := newCalendar(f.Occasion, stream(seed, recorderStream+purpose(i)))
		for c.next < duration {
			all = append(all, r.lapse(f, c.next, min(c.next+last, duration)))
			c.due(math.Inf(1))
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].start < all[j].start })
	kept := all[:0]
	hole := 0.0
	for _, l := range all {
		if l.kind == "cut" || l.kind == "zeros" {
			if l.start < hole {
				continue
			}
			hole = l.end
		}
		kept = append(kept, l)
	}
	return kept
}

// lapse places a fault on whole samples.
func (r Recorder) lapse(f RecorderFault, start, end float64) lapse {
	l := lapse{kind: f.Kind, level: f.Level}
	l.from, l.to = int64(math.Ceil(r.frame(start))), int64(math.Ceil(r.frame(end)))
	l.start, l.end = r.instant(float64(l.from)), r.instant(float64(l.to))
	return l
}

// event returns the lapse as an event.
func (l lapse) event() Event {
	e := Event{Kind: l.kind, Beat: -1, Start: l.start, End: l.end, Level: l.level}
	if l.kind == "cut" || l.kind == "zeros" {
		e.Kind, e.Note = "gap", l.kind
	}
	return e
}
