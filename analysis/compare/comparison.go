package compare

import "rundown/analysis"

// Schema is the version of the layout of comparison.json.
const Schema = 1

// Alignment says which windows of two runs are compared with each other.
type Alignment string

// The alignments: those at the same elapsed time since the start of the
// recording, or those at the same amplitude.
const (
	Elapsed   Alignment = "elapsed"
	Amplitude Alignment = "amplitude"
)

// Verdict says what became of a figure.
type Verdict string

// The verdicts. NoDifference means that chance explains what is seen, not that
// the figures are equal.
const (
	Better       Verdict = "better"
	Worse        Verdict = "worse"
	NoDifference Verdict = "no difference shown"
)

// Aim says which way a figure is better.
type Aim string

// The aims of the figures.
const (
	NearerZero Aim = "nearer zero"
	Smaller    Aim = "smaller"
	Larger     Aim = "larger"
)

// Comparison is what became of a movement, as written to comparison.json.
type Comparison struct {
	Schema    int       `json:"schema"`
	Before    Side      `json:"before"`
	After     Side      `json:"after"`
	Alignment Alignment `json:"alignment"`
	Headline  string    `json:"headline"` // one sentence
	Metrics   []Metric  `json:"metrics"`
	Notes     []string  `json:"notes"` // what limits the comparison, whole sentences

	Differences []Difference `json:"-"` // of the rate, in order of time
}

// Side is one of the two runs compared.
type Side struct {
	Path          string          `json:"path"`
	SampleRate    int             `json:"sample_rate_hz"`
	Duration      analysis.Number `json:"duration_s"`
	ClockPPM      analysis.Number `json:"clock_ppm"`
	ClockVerified bool            `json:"clock_verified"`
	Nominal       analysis.Number `json:"nominal_per_hour"`
	Window        analysis.Number `json:"window_s"` // as compared
	Tolerance     analysis.Number `json:"tolerance_s_per_day"`
}

// Metric is a figure of both runs. Figures that could not be had are NaN.
type Metric struct {
	Name       string          `json:"name"`
	Label      string          `json:"label"` // for people
	Unit       string          `json:"unit"`
	Before     analysis.Number `json:"before"`
	After      analysis.Number `json:"after"`
	Difference analysis.Number `json:"difference"` // after minus before
	Low        analysis.Number `json:"low_95"`     // of the difference, on its own
	High       analysis.Number `json:"high_95"`
	PValue     analysis.Number `json:"p_value"` // of no difference, on its own
	Verdict    Verdict         `json:"verdict"` // allows for the number of figures compared
	Aim        Aim             `json:"better_is"`
	Over       string          `json:"over"`           // what the figure is taken over
	Note       string          `json:"note,omitempty"` // a sentence
}

// Difference is by how much the rate after exceeds the one before.
type Difference struct {
	Time     float64 // elapsed of the run before, seconds
	Rate, SE float64 // s/day; SE is that of the measurement, wander left out
}
