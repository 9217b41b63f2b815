// Package series lines up any number of runs of a movement: in order of time or
// by label, each with its figures and their errors, by position, and against what
// else was different.
package series

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/environment"
	"rundown/analysis/notes"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// Schema is the version of the layout of series.json.
const Schema = 1

// Order says in which order runs are lined up.
type Order string

// The orders: by when they began, or in groups of one label.
const (
	ByTime  Order = "time"
	ByLabel Order = "label"
)

// Series is a number of runs, as written to series.json.
type Series struct {
	Schema    int                              `json:"schema"`
	Order     Order                            `json:"order"`
	Figures   []Figure                         `json:"figures"`
	Runs      []Run                            `json:"runs"` // in order
	Labels    []Group                          `json:"labels,omitempty"`
	Positions []Group                          `json:"positions,omitempty"` // in the trade's order, label by label
	Spans     []Span                           `json:"spans,omitempty"`     // between positions
	Effects   map[string]*environment.Relation `json:"effects,omitempty"`   // by the name of the figure
	Notes     []string                         `json:"notes"`               // what limits it, whole sentences
}

// Figure is a column of the table.
type Figure struct {
	Name  string `json:"name"`
	Label string `json:"label"` // for people
	Unit  string `json:"unit"`
}

// Value is a figure with its standard error; NaN where there is none.
type Value struct {
	X  analysis.Number `json:"value"`
	SE analysis.Number `json:"standard_error"`
}

// Run is one run and its figures.
type Run struct {
	Path    string      `json:"path"`
	Name    string      `json:"name"` // told apart from the others
	Notes   notes.Notes `json:"notes,omitzero"`
	HasBeat bool        `json:"has_beat"`
	Values  []Value     `json:"values"` // of Series.Figures

	start    time.Time
	zoned    bool
	hasStart bool
	middles  []float64 // of its windows, s
}

// Group is a number of runs that are alike: the means of their figures, each with
// its standard error.
type Group struct {
	Label    string  `json:"label,omitempty"`
	Position string  `json:"position,omitempty"`
	Runs     int     `json:"runs"`
	Values   []Value `json:"values"` // of Series.Figures
}

// Span is the largest difference of a figure between two positions.
type Span struct {
	Label  string `json:"label,omitempty"`
	Figure string `json:"figure"`
	From   string `json:"from"` // the position with the least value
	To     string `json:"to"`   // and with the greatest
	Value  Value  `json:"difference"`
}

// The figures of a series, by their places.
const (
	meanRate = iota
	bandRate
	bandLength
	beatError
	amplitude
	jitter
	hesitations
)

// Line lines up runs, at least one. log is what a logger wrote while they ran,
// nil for nothing. The error is one line that says what to do.
func Line(all []*runs.Run, by Order, log *environment.Log) (*Series, error) {
	if len(all) == 0 {
		return nil, errors.New("a series needs a run")
	}
	s := &Series{Schema: Schema, Order: by, Notes: []string{}, Figures: figures(all)}
	var paths []string
	for _, r := range all {
		paths = append(paths, r.Path)
	}
	for i, name := range runs.Names(paths) {
		s.Runs = append(s.Runs, newRun(all[i], name))
	}
	s.remark(all)
	s.sort()
	s.Labels = s.groups(func(r *Run) Group { return Group{Label: r.Notes.Label} })
	if len(s.Labels) == 1 && s.Labels[0].Label == "" {
		s.Labels = nil
	}
	s.positions()
	s.effects(log)
	return s, nil
}

// figures are the columns; of which kind the amplitude is, the runs tell.
func figures(all []*runs.Run) []Figure {
	swing := Figure{"amplitude", "amplitude", "°"}
	switch kind(all) {
	case rate.LiftTime:
		swing = Figure{"lift_time", "lift time", "ms"}
	case rate.Level:
		swing = Figure{"level", "level", "dBFS"}
	}
	return []Figure{
		{"mean_rate", "mean rate", "s/day"}, {"band_rate", "rate in band", "s/day"}, {"band_length", "length of band", "h"},
		{"beat_error", "beat error, size", "ms"}, swing, {"jitter", "jitter", "µs"}, {"hesitations_per_hour", "hesitations", "/h"},
	}
}

// kind is the measure of amplitude of the first run with a beat.
func kind(all []*runs.Run) rate.AmplitudeKind {
	for _, r := range all {
		if r.Summary.Status == analysis.OK {
			return r.Kind
		}
	}
	return rate.Degrees
}

func newRun(r *runs.Run, name string) Run {
	run := Run{Path: r.Path, Name: name, Notes: r.Summary.Notes, HasBeat: r.Summary.Status == analysis.OK, Values: make([]Value, hesitations+1)}
	if at, zoned, err := notes.Moment(run.Notes.Started); err == nil {
		run.start, run.zoned, run.hasStart = at, zoned, true
	}
	for i := range run.Values {
		run.Values[i] = Value{analysis.None(), analysis.None()}
	}
	if !run.HasBeat {
		return run
	}
	s := &r.Summary
	for _, w := range r.Windows {
		run.middles = append(run.middles, (w.Start+w.End)/2)
	}
	run.Values[meanRate] = Value{s.Rate.Mean, s.Rate.SE}
	if b := s.StableBand; b.Found {
		run.Values[bandRate] = Value{b.Mean, b.SE}
		// Either end lies somewhere within a window.
		run.Values[bandLength] = Value{(b.End - b.Start) / 3600, analysis.Number(r.Width() / math.Sqrt(6) / 3600)}
	} else {
		run.Values[bandLength].X = 0
	}
	// The sides are named by the one heard first, which is chance.
	run.Values[beatError] = Value{analysis.Number(math.Abs(float64(s.BeatError.Mean))), s.BeatError.SE}
	run.Values[amplitude] = Value{s.Amplitude.Mean, s.Amplitude.SE}
	run.Values[jitter] = Value{1e6 * s.Beat.Jitter, 1e6 * s.Beat.Jitter / analysis.Number(math.Sqrt(2*float64(max(s.Beat.Heard, 1))))}
	n := float64(s.Events[beat.Late] + s.Events[beat.Early])
	hours := max(float64(s.Beat.Last-s.Beat.First), 1) / 3600
	run.Values[hesitations] = Value{analysis.Number(n / hours), analysis.Number(math.Sqrt(max(n, 1)) / hours)}
	return run
}

// remark notes what is not alike in the runs, and takes away what can't be set
// beside the others.
func (s *Series) remark(all []*runs.Run) {
	first := kind(all)
	unchecked, nominal := 0, map[analysis.Number]bool{}
	for i, r := range all {
		if !s.Runs[i].HasBeat {
			s.Notes = append(s.Notes, fmt.Sprintf("No beat was found in %s.", s.Runs[i].Name))
			continue
		}
		if r.Kind != first {
			s.Runs[i].Values[amplitude] = Value{analysis.None(), analysis.None()}
			s.Notes = append(s.Notes, fmt.Sprintf("The amplitude of %s is of another kind and left out.", s.Runs[i].Name))
		}
		if !r.Summary.Recording.ClockVerified {
			unchecked++
		}
		nominal[r.Summary.Beat.Nominal] = true
	}
	if unchecked > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("The recorder's clock was not checked in %d of %d runs: rates compare only where one recorder made them.", unchecked, len(all)))
	}
	if len(nominal) > 1 {
		s.Notes = append(s.Notes, "The runs are measured against different nominal counts, so that their rates do not compare: analyse them with one --bph.")
	}
}

// sort brings the runs in order. Those whose beginnings are not all known stay as
// they were given.
func (s *Series) sort() {
	known := !slices.ContainsFunc(s.Runs, func(r Run) bool { return !r.hasStart })
	if known {
		slices.SortStableFunc(s.Runs, func(a, b Run) int { return a.start.Compare(b.start) })
	} else if len(s.Runs) > 1 {
		s.Notes = append(s.Notes, "When each run began is not known (started, in the notes), so they stand in the order given.")
	}
	if s.Order != ByLabel {
		return
	}
	place := map[string]int{}
	for _, r := range s.Runs {
		if _, ok := place[r.Notes.Label]; !ok {
			place[r.Notes.Label] = len(place)
		}
	}
	slices.SortStableFunc(s.Runs, func(a, b Run) int { return cmp.Compare(place[a.Notes.Label], place[b.Notes.Label]) })
}

// groups are the runs with a beat that belong together, in the order in which
// they first come. The scatter of runs within their groups is pooled over all of
// them; a mean's error is no less than what its runs do not know of themselves.
func (s *Series) groups(of func(*Run) Group) []Group {
	var out []Group
	members := map[[2]string][]*Run{}
	for i := range s.Runs {
		r := &s.Runs[i]
		g := of(r)
		key := [2]string{g.Label, g.Position}
		if r.HasBeat && members[key] == nil {
			out = append(out, g)
		}
		if r.HasBeat {
			members[key] = append(members[key], r)
		}
	}
	for i := range out {
		out[i].Runs = len(members[[2]string{out[i].Label, out[i].Position}])
	}
	for k := range s.Figures {
		var samples [][]float64
		var own [][]float64
		for _, g := range out {
			var xs, ses []float64
			for _, r := range members[[2]string{g.Label, g.Position}] {
				if v := r.Values[k]; v.X.Known() {
					xs, ses = append(xs, float64(v.X)), append(ses, float64(v.SE))
				}
			}
			samples, own = append(samples, xs), append(own, ses)
		}
		sd := stats.Within(samples)
		for i := range out {
			out[i].Values = append(out[i].Values, mean(samples[i], own[i], sd))
		}
	}
	return out
}

// mean is that of a group's runs. sd is what runs of a group differ by, NaN where
// no group has two.
func mean(xs, ses []float64, sd float64) Value {
	if len(xs) == 0 {
		return Value{analysis.None(), analysis.None()}
	}
	variance := 0.0
	for _, se := range ses {
		if !math.IsNaN(se) {
			variance += se * se / float64(len(ses))
		}
	}
	if sd*sd > variance {
		variance = sd * sd
	}
	return Value{analysis.Number(stats.Mean(xs)), analysis.Number(math.Sqrt(variance / float64(len(xs))))}
}

// positions are the groups of one position and label, and the largest differences
// between them.
func (s *Series) positions() {
	all := s.groups(func(r *Run) Group { return Group{Label: r.Notes.Label, Position: r.Notes.Position} })
	all = slices.DeleteFunc(all, func(g Group) bool { return g.Position == "" })
	label := map[string]int{}
	for _, g := range all {
		if _, ok := label[g.Label]; !ok {
			label[g.Label] = len(label)
		}
	}
	slices.SortStableFunc(all, func(a, b Group) int {
		return cmp.Or(cmp.Compare(label[a.Label], label[b.Label]), cmp.Compare(rank(a.Position), rank(b.Position)))
	})
	s.Positions = all
	repeated := false
	for len(all) > 0 {
		n := 1
		for n < len(all) && all[n].Label == all[0].Label {
			n++
		}
		for _, g := range all[:n] {
			repeated = repeated || g.Runs > 1
		}
		s.Spans = append(s.Spans, s.spans(all[:n])...)
		all = all[n:]
	}
	if len(s.Spans) > 0 && !repeated {
		s.Notes = append(s.Notes, "There is one run in each position: what two runs in one position differ by is not in the errors of the table of positions.")
	}
}

// rank is the place of a position in the trade's order; others come last.
func rank(position string) int {
	if i := slices.Index(notes.Positions, position); i >= 0 {
		return i
	}
	return len(notes.Positions)
}

// spans are the largest differences of rate and amplitude between positions.
func (s *Series) spans(groups []Group) []Span {
	var out []Span
	for _, k := range []int{meanRate, amplitude} {
		low, high := -1, -1
		for i, g := range groups {
			if !g.Values[k].X.Known() {
				continue
			}
			if low < 0 || g.Values[k].X < groups[low].Values[k].X {
				low = i
			}
			if high < 0 || g.Values[k].X > groups[high].Values[k].X {
				high = i
			}
		}
		if low == high {
			continue
		}
		a, b := groups[low].Values[k], groups[high].Values[k]
		out = append(out, Span{groups[low].Label, s.Figures[k].Name, groups[low].Position, groups[high].Position,
			Value{b.X - a.X, analysis.Number(math.Hypot(float64(a.SE), float64(b.SE)))}})
	}
	return out
}

// effects sets rate and amplitude of the runs against what was logged, or else
// against the temperatures noted.
func (s *Series) effects(log *environment.Log) {
	causes := s.causes(log)
	if len(causes) == 0 {
		return
	}
	times := make([]float64, len(s.Runs))
	ordered := s.Order == ByTime && !slices.ContainsFunc(s.Runs, func(r Run) bool { return !r.hasStart })
	for i := range times {
		times[i] = float64(i)
		if ordered {
			times[i] = s.Runs[i].start.Sub(s.Runs[0].start).Hours()
			if i > 0 {
				times[i] = max(times[i], times[i-1]+1e-3)
			}
		}
	}
	s.Effects = map[string]*environment.Relation{}
	wind := environment.Cause{Name: s.Figures[amplitude].Label, Unit: s.Figures[amplitude].Unit, At: s.column(amplitude)}
	// With few runs, there is no telling the amplitude from the others.
	r := environment.RelateRuns(s.Figures[meanRate].Unit, times, s.column(meanRate), append([]environment.Cause{wind}, causes...))
	if r == nil {
		r = environment.RelateRuns(s.Figures[meanRate].Unit, times, s.column(meanRate), causes)
	}
	for k, r := range map[int]*environment.Relation{meanRate: r, amplitude: environment.RelateRuns(wind.Unit, times, wind.At, causes)} {
		if r != nil {
			s.Effects[s.Figures[k].Name] = r
		}
	}
	if r == nil {
		s.Notes = append(s.Notes, fmt.Sprintf("It takes %d runs, and two more for each further cause, to set them against what was logged or noted beside them.", environment.LeastRuns))
	}
}

func (s *Series) column(k int) []float64 {
	out := make([]float64, len(s.Runs))
	for i, r := range s.Runs {
		out[i] = float64(r.Values[k].X)
	}
	return out
}

// causes are the means over each run of what was logged, or else the temperatures
// noted.
func (s *Series) causes(log *environment.Log) []environment.Cause {
	if log == nil {
		noted := environment.Cause{Name: "temperature", Unit: "°C"}
		known := 0
		for _, r := range s.Runs {
			x := math.NaN()
			if t := r.Notes.Temperature; t != nil {
				x = *t
				known++
			}
			noted.At = append(noted.At, x)
		}
		if known < 2 {
			return nil
		}
		return []environment.Cause{noted}
	}
	var out []environment.Cause
	for k, c := range log.Columns {
		cause := environment.Cause{Name: c.Name, Unit: c.Unit}
		for _, r := range s.Runs {
			cause.At = append(cause.At, r.logged(log, k))
		}
		out = append(out, cause)
	}
	return out
}

// logged is the mean of a column while the run lasted, NaN where the log says too
// little of it.
func (r *Run) logged(log *environment.Log, column int) float64 {
	if !r.hasStart || len(r.middles) == 0 {
		return math.NaN()
	}
	var known []float64
	for _, x := range log.At(column, environment.Start{At: r.start, Zoned: r.zoned}, r.middles) {
		if !math.IsNaN(x) {
			known = append(known, x)
		}
	}
	if 2*len(known) < len(r.middles) {
		return math.NaN()
	}
	return stats.Mean(known)
}
