package synth

// Beat is one half swing of the oscillator, as it truly was.
type Beat struct {
	Index int64
	// Time is when the oscillator passes the middle of its lift, true seconds
	// since the recorder started.
	Time float64
	// Elapsed is the same instant on the recording's axis: Time less the
	// seconds that the recorder lost before it.
	Elapsed float64
	Frame   float64 // the same in frames of the recording; 0 for a movement without recorder
	Tock    bool    // it falls to the side other than that of beat 0
	Audible bool    // it made a sound
	// Covered is true where something as loud as the beat, or louder, lies over
	// it, or the recorder failed.
	Covered   bool
	Amplitude float64 // degrees
	Lift      float64 // from unlocking to drop, seconds
	Level     float64 // peak, dB above the louder side's tick at full wind
	Rate      float64 // rate of the oscillator at this instant, seconds a day
	// Steady is Time without beat error, jitter, modulation, and the time lost
	// or won in events: the integral of the oscillator's rate, seconds.
	Steady float64
}

// Event is something other than a beat in its place.
type Event struct {
	// Kind is one of the kinds that an analysis knows (late, early, missed,
	// extra, stop, masked, gap), or "displaced" for a single beat out of its
	// place, or the kind of a recorder's fault or of a sound of the room.
	Kind string `json:"kind"`
	// Beat is the first beat displaced or not heard; for all other kinds the
	// last beat before, -1 where there is none.
	Beat  int64   `json:"beat"`
	Start float64 `json:"start_s"`  // true seconds since the recorder started
	End   float64 `json:"end_s"`    // likewise
	Shift float64 `json:"shift_s"`  // displacement of the beats, seconds, positive when late; of a stop the standstill
	Level float64 `json:"level_db"` // of an additional sound, dB above the louder side's tick at full wind
	Note  string  `json:"note,omitempty"`
}
