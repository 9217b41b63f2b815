package synth

import (
	"bufio"
	"encoding/json"
	"io"
	"math"
	"strconv"
)

// The windows and the tolerance for which a report gives the stable band: what
// an analysis takes where nothing is said.
const (
	reportWindow    = 60 // s
	reportTolerance = 10 // s/day
)

// report is the truth as written beside a recording.
type report struct {
	Schema  int            `json:"schema"`
	Recipe  map[string]any `json:"recipe"`
	Summary summary        `json:"summary"`
	Windows []reportRate   `json:"windows"`
	Events  []Event        `json:"events"`
}

// summary holds the figures of a whole run. Those that a run without beats
// doesn't have are null.
type summary struct {
	Nominal     float64        `json:"nominal_per_hour"`
	Duration    float64        `json:"duration_s"`
	Beats       int            `json:"beats"`
	Audible     int            `json:"audible"`
	Covered     int            `json:"covered"`
	Rate        *float64       `json:"mean_rate_s_per_day"`
	BeatError   float64        `json:"beat_error_ms"`
	First       *float64       `json:"first_amplitude_deg"`
	Last        *float64       `json:"last_amplitude_deg"`
	Lost        float64        `json:"lost_to_events_s"`
	StableBand  *reportBand    `json:"stable_band"`
	EventCounts map[string]int `json:"event_counts"`
}

type reportBand struct {
	Tolerance float64 `json:"tolerance_s_per_day"`
	Start     float64 `json:"start_s"`
	End       float64 `json:"end_s"`
}

type reportRate struct {
	Start float64  `json:"start_s"`
	End   float64  `json:"end_s"`
	Rate  *float64 `json:"rate_s_per_day"`
}

// WriteTruth writes the truth of the recording, all but its beats, as JSON.
func (r Recording) WriteTruth(w io.Writer, t *Truth) error {
	recipe, err := r.Recipe()
	if err != nil {
		return err
	}
	p := report{Schema: 1, Recipe: recipe, Summary: r.summary(t), Events: t.Events}
	if p.Events == nil {
		p.Events = []Event{}
	}
	for i, rate := range t.Rates(reportWindow) {
		start := float64(i * reportWindow)
		p.Windows = append(p.Windows, reportRate{start, start + reportWindow, number(rate)})
	}
	out := json.NewEncoder(w)
	out.SetIndent("", "  ")
	return out.Encode(p)
}

func (r Recording) summary(t *Truth) summary {
	s := summary{
		Nominal:     3600 / t.Interval,
		Duration:    t.Duration,
		Beats:       len(t.Beats),
		Rate:        number(t.Rate(0, math.Inf(1))),
		BeatError:   1e3 * r.Movement.BeatError,
		Lost:        t.Lost(),
		EventCounts: map[string]int{},
	}
	for _, b := range t.Beats {
		if b.Audible {
			s.Audible++
		}
		if b.Covered {
			s.Covered++
		}
	}
	if n := len(t.Beats); n > 0 {
		s.First, s.Last = &t.Beats[0].Amplitude, &t.Beats[n-1].Amplitude
	}
	for _, e := range t.Events {
		s.EventCounts[e.Kind]++
	}
	// A band of fewer than three windows counts as none.
	if first, last := t.StableBand(reportWindow, reportTolerance); last-first >= 3 {
		s.StableBand = &reportBand{reportTolerance, float64(first * reportWindow), float64(last * reportWindow)}
	}
	return s
}

// number returns a figure for JSON, which has none for what isn't there.
func number(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}

// tableHead names the columns that WriteBeats writes.
const tableHead = "beat,true_s,elapsed_s,frame,side,audible,covered,amplitude_deg,lift_ms,level_db,rate_s_per_day,steady_s\n"

// WriteBeats writes a table of beats as CSV, a row a beat.
func WriteBeats(w io.Writer, beats []Beat) error {
	out := bufio.NewWriter(w)
	out.WriteString(tableHead)
	var row []byte
	for _, b := range beats {
		row = b.appendRow(row[:0])
		if _, err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Flush()
}

func (b Beat) appendRow(row []byte) []byte {
	number := func(x float64, decimals int) {
		row = append(strconv.AppendFloat(row, x, 'f', decimals, 64), ',')
	}
	flag := func(x bool) {
		digit := byte('0')
		if x {
			digit = '1'
		}
		row = append(row, digit, ',')
	}
	row = append(strconv.AppendInt(row, b.Index, 10), ',')
	number(b.Time, 9)
	number(b.Elapsed, 9)
	number(b.Frame, 4)
	if b.Tock {
		row = append(row, "tock,"...)
	} else {
		row = append(row, "tick,"...)
	}
	flag(b.Audible)
	flag(b.Covered)
	number(b.Amplitude, 4)
	number(1e3*b.Lift, 6)
	number(b.Level, 2)
	number(b.Rate, 5)
	number(b.Steady, 9)
	row[len(row)-1] = '\n'
	return row
}
