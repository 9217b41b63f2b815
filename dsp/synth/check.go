package synth

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Check tells what in a recording makes no sense, as one line; nil where all of
// it can be rendered.
func (r Recording) Check() error {
	r = r.withDefaults()
	return cmp.Or(
		positive("duration_s", r.Duration),
		within("duration_s", r.Duration, 0, 1e8),
		r.Movement.check(),
		r.Sound.check(),
		r.Room.check(r.Duration),
		r.Recorder.check(r.Duration),
	)
}

func positive(key string, x float64) error { return within(key, x, math.SmallestNonzeroFloat64, 1e9) }

// within tells where x is not a number from low to high.
func within(key string, x, low, high float64) error {
	switch {
	case x >= low && x <= high:
		return nil
	case low == math.SmallestNonzeroFloat64:
		return fmt.Errorf("%s is %g: give a number above 0", key, x)
	}
	return fmt.Errorf("%s is %g: give a number from %g to %g", key, x, low, high)
}

// known tells where a name is not one of those that serve.
func known(key, name string, names ...string) error {
	if slices.Contains(names, name) {
		return nil
	}
	return fmt.Errorf("%s is %q: give one of %q", key, name, names)
}

// each returns what is wrong with the first of the entries of a list that make no
// sense, its place before it.
func each[T any](list string, entries []T, check func(T) error) error {
	for i, entry := range entries {
		if err := check(entry); err != nil {
			return fmt.Errorf("%s %d: %w", list, i+1, err)
		}
	}
	return nil
}

func (m Movement) check() error {
	err := cmp.Or(
		within("movement.beats_per_hour", m.BeatsPerHour, 100, 200000),
		within("movement.start_s", m.Start, 0, 1e9),
		within("movement.beat_error_s", math.Abs(m.BeatError), 0, m.Interval()/2),
		within("movement.rate_s_per_day", m.Rate, -20000, 20000),
		within("movement.jitter_s", m.Jitter, -1e9, m.Interval()/10),
		positive("movement.lift_angle_deg", m.LiftAngle),
		m.Mainspring.check(),
	)
	if err != nil || m.Absent {
		return err
	}
	if m.Mainspring.Full < m.Least {
		return fmt.Errorf("movement.mainspring.full_deg is %g: the movement needs more than %g to start", m.Mainspring.Full, m.Least)
	}
	return cmp.Or(
		each("movement.fault", m.Faults, func(f Fault) error { return f.check(m.Interval()) }),
		each("movement.recurrence", m.Recurrences, func(c Recurrence) error { return c.check(m.Interval()) }),
		each("movement.modulation", m.Modulations, func(u Modulation) error {
			return cmp.Or(within("period_beats", u.Period, 2, 1e9), within("peak_to_peak_s", u.PeakToPeak, 0, m.Interval()/2))
		}),
	)
}

func (s Mainspring) check() error {
	return cmp.Or(
		within("movement.mainspring.run_time_s", s.RunTime, 0, 1e9),
		positive("movement.mainspring.full_deg", s.Full),
		within("movement.mainspring.end_deg", s.End, 0, s.Full),
		within("movement.mainspring.surplus", s.Surplus, 0, 1),
		within("movement.mainspring.slope", s.Slope, 0, 1-s.Surplus),
		positive("movement.mainspring.early", s.Early),
		positive("movement.mainspring.exponent", s.Exponent),
	)
}

// check also limits how much can happen in a recording of a duration in
// seconds: rooms and recorders are planned in advance.
func (o Occasion) check(duration float64) error {
	return cmp.Or(within("at_s", o.At, 0, 1e9), within("per_hour", o.PerHour, 0, 1e6*3600/duration))
}

func (f Fault) check(interval float64) error {
	most := 1e6
	if f.Kind == "early" {
		most = interval / 2
	}
	err := cmp.Or(
		known("kind", f.Kind, "late", "early", "missed", "extra", "stop"),
		f.Occasion.check(3600),
		within("size_s", f.Size, 0, most),
		within("upto_s", f.Upto, 0, most),
		within("beats", float64(f.Beats), 0, 1e9),
	)
	if err == nil && f.Upto > 0 && f.Upto < f.Size {
		err = errors.New("upto_s lies below size_s: exchange them")
	}
	return err
}

func (c Recurrence) check(interval float64) error {
	return cmp.Or(
		within("period_beats", c.Period, 1, 1e9),
		known("effect", c.Effect, "", "displaced", "missed"),
		within("probability", c.Probability, 0, 1),
		within("size_s", c.Size, -interval/2, 1e6),
		within("spread", c.Spread, 0, 1),
	)
}

func (s Sound) check() error {
	return cmp.Or(
		within("sound.modes", float64(s.Modes), 1, 1000),
		within("sound.low_hz", s.LowHz, 200, 90000),
		within("sound.high_hz", s.HighHz, s.LowHz, 90000),
		within("sound.decay_s", s.Decay, 1e-5, 0.01),
		within("sound.contact_scatter_s", s.ContactScatter, 0, 0.1),
		within("sound.echo_s", s.Echo, 0, 0.3),
	)
}

func (r Room) check(duration float64) error {
	err := cmp.Or(
		known("room.noise", r.Noise, append(Textures(), "none")...),
		within("room.snr_db", r.SNR, -200, 200),
		within("room.level_dbfs", r.Level, -300, 100),
		within("room.hum_hz", r.HumHz, 0, 1000),
	)
	if err == nil && r.Samples != nil && (len(r.Samples) < 100 || !(r.SamplesRate > 0)) {
		err = errors.New("room samples need a rate above 0 and 100 samples or more")
	}
	if err != nil {
		return err
	}
	return each("room.sound", r.Sounds, func(s RoomSound) error {
		return cmp.Or(
			known("kind", s.Kind, append(Textures(), "gust", "knock", "lorry", "slam")...),
			s.Occasion.check(duration),
			within("for_s", s.For, 0, 1e9),
			within("level_db", s.Level, -200, 200),
		)
	})
}

func (r Recorder) check(duration float64) error {
	err := cmp.Or(
		within("recorder.sample_rate_hz", float64(r.SampleRate), 4000, 192000),
		within("recorder.clock_ppm", r.ClockPPM, -10000, 10000),
		within("recorder.clock_ppm_per_hour", r.ClockDrift, -1000, 1000),
		within("recorder.channels", float64(r.Channels), 1, 64),
		within("recorder.channel", float64(r.Channel), 1, float64(r.Channels)),
		within("recorder.peak_dbfs", r.PeakLevel, -200, 60),
		r.Reference.check(r),
	)
	if err == nil && !r.Float && !slices.Contains([]int{8, 16, 24, 32}, r.Bits) {
		err = fmt.Errorf("recorder.bits_per_sample is %d: give 8, 16, 24 or 32", r.Bits)
	}
	if err != nil {
		return err
	}
	return each("recorder.fault", r.Faults, func(f RecorderFault) error {
		return cmp.Or(
			known("kind", f.Kind, "cut", "zeros", "gain", "dead", "moved"),
			f.Occasion.check(duration),
			within("for_s", f.For, 0, 1e9),
			within("level_db", f.Level, -200, 200),
		)
	})
}

func (f Reference) check(r Recorder) error {
	if f.Hz == 0 {
		return nil
	}
	err := cmp.Or(
		within("recorder.reference.hz", f.Hz, 0.01, 0.4*float64(r.SampleRate)),
		within("recorder.reference.channel", float64(f.Channel), 1, float64(r.Channels)),
		known("recorder.reference.kind", f.Kind, "tick", "pulse", "tone"),
		within("recorder.reference.scatter_s", f.Scatter, 0, 1/f.Hz),
		within("recorder.reference.lost_for_s", f.LostFor, 0, 1e9),
	)
	if err == nil && f.Channel == r.Channel {
		err = fmt.Errorf("recorder.reference.channel is %d, which carries the movement: give another", f.Channel)
	}
	return err
}
