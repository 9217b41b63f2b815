package synth

import "iter"

// Recording is a movement, its sound, the room and the recorder. The zero value
// is ten minutes of a healthy movement.
type Recording struct {
	Seed     uint64   `toml:"seed"`       // of everything random
	Duration float64  `toml:"duration_s"` // for which the recorder runs, true seconds; 0 means 600
	Movement Movement `toml:"movement"`
	Sound    Sound    `toml:"sound"`
	Room     Room     `toml:"room"`
	Recorder Recorder `toml:"recorder"`
}

func (r Recording) withDefaults() Recording {
	setDefault(&r.Duration, 600)
	r.Movement = r.Movement.withDefaults()
	r.Sound = r.Sound.withDefaults()
	r.Room = r.Room.withDefaults()
	r.Recorder = r.Recorder.withDefaults()
	return r
}

// Beats yields every beat in order, with its place in the recording.
func (r Recording) Beats() iter.Seq[Beat] {
	return func(yield func(Beat) bool) {
		w := newWitness(r.withDefaults())
		for b, ok := w.next(); ok; b, ok = w.next() {
			if !yield(b) {
				return
			}
		}
	}
}
