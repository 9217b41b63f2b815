package analysis

import (
	"rundown/analysis/beat"
	"rundown/analysis/environment"
	"rundown/analysis/notes"
	"rundown/analysis/rate"
)

// Schema is the version of the summary's layout.
const Schema = 1

// Status says whether a run has a rate.
type Status string

// The two ways in which an analysis ends.
const (
	OK     Status = "ok"
	NoBeat Status = "no-beat"
)

// Summary is what is known of a run, as written to summary.json. Figures that
// could not be had are NaN. Times are true seconds since the first sample.
type Summary struct {
	Schema       int                 `json:"schema"`
	Status       Status              `json:"status"`
	HeardInstead string              `json:"heard_instead,omitempty"` // where there was no beat, what was heard, one sentence
	Recording    Recording           `json:"recording"`
	Notes        notes.Notes         `json:"notes,omitzero"` // what the maker noted of the run
	Beat         Beat                `json:"beat"`
	Ending       *Ending             `json:"ending,omitempty"` // nil without a beat
	Rate         Rate                `json:"rate"`
	BeatError    BeatError           `json:"beat_error"`
	Amplitude    Amplitude           `json:"amplitude"`
	StableBand   StableBand          `json:"stable_band"`
	Stability    *Stability          `json:"stability,omitempty"`   // nil without a beat
	Barrel       *Barrel             `json:"barrel,omitempty"`      // nil without a train whose first arbor's turns can be counted
	Events       map[beat.Kind]int   `json:"events"`                // every kind has its count
	Environment  *environment.Report `json:"environment,omitempty"` // nil where nothing was logged
	Recurrences  []Recurrence        `json:"recurrences"`           // strongest first
	Files        map[string]string   `json:"files"`                 // role to name, relative to the results folder
	Clips        []ClipFile          `json:"clips"`                 // in order of time
}

// Recording is what was analysed.
type Recording struct {
	Paths         []string `json:"paths"`
	SampleRate    int      `json:"sample_rate_hz"` // nominal
	Channels      int      `json:"channels"`
	Channel       int      `json:"channel"` // the one analysed, from 1; 0 if none was chosen
	BitsPerSample int      `json:"bits_per_sample"`
	Duration      Number   `json:"duration_s"`
	ClockPPM      Number   `json:"clock_ppm"` // correction applied, positive when the recorder's clock runs fast
	ClockVerified bool     `json:"clock_verified"`
	// ClockSE is the standard error of the correction, NaN where it is not
	// known: that of an unchecked clock is commonly some tens of ppm.
	ClockSE     Number      `json:"clock_standard_error_ppm"`
	ClockSource ClockSource `json:"clock_source"`
	Reference   *Reference  `json:"reference,omitempty"` // nil without one
	Problems    []string    `json:"problems"`            // whole sentences
}

// Beat is what was counted.
type Beat struct {
	Nominal  Number             `json:"nominal_per_hour"`
	Source   rate.NominalSource `json:"nominal_source,omitempty"` // empty where there was no beat and nothing named one
	Measured Number             `json:"measured_per_hour"`
	Period   Number             `json:"period_s"` // two beats
	Counted  int64              `json:"counted"`
	Heard    int64              `json:"heard"`
	Jitter   Number             `json:"jitter_s"` // as observed, detection noise included
	First    Number             `json:"first_s"`  // instant of the first beat
	Last     Number             `json:"last_s"`   // and of the last: it ran from the one to the other
	// Mark names what marks the instant of a beat in the figures: MidLift, or
	// else Clearest.
	Mark string `json:"mark,omitempty"`
	// CountOdds is the logarithm to base ten of the odds against the next best
	// count.
	CountOdds Number `json:"count_odds"`
}

// MidLift is the mark of beats that are referred to the middle of the lift, the
// oscillator's passage through rest.
const MidLift = "mid-lift"

// Clearest is the mark of beats whose lift could not be told: their clearest
// single sound.
const Clearest = "clearest"

// Rate is in seconds a day, positive when the movement gains.
type Rate struct {
	Mean    Number `json:"mean_s_per_day"`
	SE      Number `json:"standard_error_s_per_day"` // of the measurement: timing scatter, not drift
	First   Number `json:"first_s_per_day"`          // smoothed, of the first window, and of the last
	FirstSE Number `json:"first_standard_error_s_per_day"`
	Last    Number `json:"last_s_per_day"`
	LastSE  Number `json:"last_standard_error_s_per_day"`
	Spread  Number `json:"spread_s_per_day"`
	ClockSE Number `json:"clock_standard_error_s_per_day"` // of the mean, from the recorder's clock, on top of SE
	Lost    Number `json:"lost_to_events_s"`
}

// BeatError is half of tick-to-tock minus tock-to-tick, in milliseconds.
type BeatError struct {
	Mean Number `json:"mean_ms"`
	SE   Number `json:"standard_error_ms"`
}

// Amplitude is in degrees, milliseconds of lift time, or dBFS, by its kind.
type Amplitude struct {
	Kind  string `json:"kind"`
	Mean  Number `json:"mean"`
	SE    Number `json:"standard_error"`
	First Number `json:"first"`
	Last  Number `json:"last"`
}

// StableBand is the longest stretch of the run with a steady rate. Everything
// but the tolerance is NaN where none was found.
type StableBand struct {
	Found     bool   `json:"found"`
	Tolerance Number `json:"tolerance_s_per_day"`
	Start     Number `json:"start_s"`
	End       Number `json:"end_s"`
	Mean      Number `json:"mean_rate_s_per_day"`
	SE        Number `json:"mean_rate_standard_error_s_per_day"`
	ClockSE   Number `json:"mean_rate_clock_standard_error_s_per_day"` // on top of SE
	Spread    Number `json:"spread_s_per_day"`
	TooShort  bool   `json:"too_short"` // the run has too few windows for one
}

// Barrel counts the run in turns of the first arbor of the train since the
// first beat: the whole run, and the stretch of them within the stable band.
type Barrel struct {
	Name      string `json:"name"`
	Turn      Number `json:"turn_s"` // length of one turn
	Turns     Number `json:"turns"`
	BandStart Number `json:"stable_band_start"`
	BandEnd   Number `json:"stable_band_end"`
}

// Recurrence is something that comes round again.
type Recurrence struct {
	Kind          string `json:"kind"` // "events" or "modulation"
	PeriodBeats   Number `json:"period_beats"`
	PhaseBeats    Number `json:"phase_beats"`
	Occurrences   int    `json:"occurrences"`
	Opportunities int    `json:"opportunities"`
	Size          Number `json:"size_ms"`
	PValue        Number `json:"p_value"`
	Match         string `json:"match"`
	Note          string `json:"note,omitempty"`
}

// ClipFile is the sound around an event.
type ClipFile struct {
	File  string    `json:"file"` // relative to the results folder
	Kind  beat.Kind `json:"kind"`
	Beat  int64     `json:"beat"`
	Start Number    `json:"start_s"` // of the clip
}
