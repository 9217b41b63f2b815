package compare

import (
	"slices"

	"rundown/analysis"
	"rundown/analysis/notes"
	"rundown/analysis/runs"
)

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
	Schema     int       `json:"schema"`
	Before     Side      `json:"before"` // the first run of it
	After      Side      `json:"after"`
	BeforeRuns []Side    `json:"before_runs"` // all of them, in the order given
	AfterRuns  []Side    `json:"after_runs"`
	Alignment  Alignment `json:"alignment"`
	Headline   string    `json:"headline"` // one sentence
	Repeats    string    `json:"repeats"`  // what more runs would show, whole sentences
	Metrics    []Metric  `json:"metrics"`
	Notes      []string  `json:"notes"` // what limits the comparison, whole sentences

	Differences []Difference `json:"-"` // of the rate, in order of time
}

// Repeated reports whether there is more than one run of a state, so that what runs
// of one state differ by is known.
func (c *Comparison) Repeated() bool { return len(c.BeforeRuns)+len(c.AfterRuns) > 2 }

// Names are what the runs are called, those before first, told apart where they are
// alike.
func (c *Comparison) Names() []string {
	var paths []string
	for _, s := range slices.Concat(c.BeforeRuns, c.AfterRuns) {
		paths = append(paths, s.Path)
	}
	return runs.Names(paths)
}

// Side is one of the runs compared.
type Side struct {
	Path          string          `json:"path"`
	Notes         notes.Notes     `json:"notes,omitzero"`
	SampleRate    int             `json:"sample_rate_hz"`
	Duration      analysis.Number `json:"duration_s"`
	ClockPPM      analysis.Number `json:"clock_ppm"`
	ClockVerified bool            `json:"clock_verified"`
	Nominal       analysis.Number `json:"nominal_per_hour"`
	Window        analysis.Number `json:"window_s"` // as compared
	Tolerance     analysis.Number `json:"tolerance_s_per_day"`
}

// Metric is a figure of both states. Figures that could not be had are NaN.
type Metric struct {
	Name       string          `json:"name"`
	Label      string          `json:"label"` // for people
	Unit       string          `json:"unit"`
	Before     analysis.Number `json:"before"` // mean of its runs
	After      analysis.Number `json:"after"`
	Difference analysis.Number `json:"difference"` // after minus before
	Low        analysis.Number `json:"low_95"`     // of the difference, on its own
	High       analysis.Number `json:"high_95"`
	PValue     analysis.Number `json:"p_value"` // of no difference, on its own
	Verdict    Verdict         `json:"verdict"` // allows for the number of figures compared
	Aim        Aim             `json:"better_is"`
	Over       string          `json:"over"`           // what the figure is taken over
	Note       string          `json:"note,omitempty"` // a sentence

	BeforeRuns []analysis.Number `json:"before_runs"` // of each run, in the order given
	AfterRuns  []analysis.Number `json:"after_runs"`
	RunSD      analysis.Number   `json:"run_to_run_sd"`          // of runs of one state; NaN without repeats
	Needed     int               `json:"runs_to_show,omitempty"` // of either state, to show a difference of this size in 8 of 10 such sets; 0 where more than MostRuns or not known

	common float64 // error of the difference that the runs of a state share
	own    float64 // standard error of one run by what it knows itself
}

// MostRuns is the greatest number of runs of either state that Metric.Needed speaks of.
const MostRuns = 50

// Difference is by how much the rate after exceeds the one before.
type Difference struct {
	Time     float64 // elapsed of the run before, seconds
	Rate, SE float64 // s/day; SE is that of the measurement, wander left out, and with repeats of what runs of one state differ by
}
