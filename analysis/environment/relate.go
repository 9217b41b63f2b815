package environment

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"rundown/analysis/drift"
	"rundown/analysis/rate"
	"rundown/dsp/stats"
)

// Report is what the environment of a run had to do with it.
type Report struct {
	Log       string    `json:"log"` // the file's name
	Rate      *Relation `json:"rate,omitempty"`
	Amplitude *Relation `json:"amplitude,omitempty"` // nil where the amplitude could not be measured
	Notes     []string  `json:"notes"`               // what limits it, whole sentences
}

// Relation is a figure of a run and its causes.
type Relation struct {
	Unit    string   `json:"unit"` // of the figure
	Windows int      `json:"windows"`
	Causes  []Effect `json:"causes"`
}

// Effect is what one cause does to a figure, in its unit in one of the cause's.
type Effect struct {
	Cause    string   `json:"cause"`
	Unit     string   `json:"unit"` // of the cause
	X        float64  `json:"coefficient"`
	SE       float64  `json:"standard_error"`
	Low      float64  `json:"low_95"`
	High     float64  `json:"high_95"`
	P        float64  `json:"p_value"`            // of no effect
	Claimed  bool     `json:"claimed"`            // allows for the number of causes
	From     float64  `json:"from"`               // least value of the cause in the run
	To       float64  `json:"to"`                 // greatest
	Share    float64  `json:"share"`              // by how much less the variance of the figure is with this part taken off
	Together []string `json:"together,omitempty"` // causes that went with this one: the effect is that of either, or of all
}

// wrong is how probably anything is claimed of causes that have no effect on a
// figure.
const wrong = 0.05

// inflated is the inflation of a variance past which causes are not told apart
// (common practice).
const inflated = 10

// ErrNoStart says that a log counts the time of day and the run does not say when
// it began.
var ErrNoStart = errors.New("it gives the time of day, and when the recording began is not known: say so with --started, or in the notes")

// Relate sets the rate and the amplitude of a run against a log. start is nil
// where it is not known when the run began. The error, without the log's name,
// says why it can't be done.
func Relate(ws []rate.Window, kind rate.AmplitudeKind, log *Log, start *Start) (*Report, error) {
	if start == nil {
		if !log.Elapsed {
			return nil, ErrNoStart
		}
		start = &Start{}
	}
	middles := make([]float64, len(ws))
	for i, w := range ws {
		middles[i] = (w.Start + w.End) / 2
	}
	causes := make([]Cause, len(log.Columns))
	for k, c := range log.Columns {
		causes[k] = Cause{c.Name, c.Unit, log.At(k, *start, middles), false}
	}
	if !covered(causes) {
		return nil, fmt.Errorf("it says nothing of the time of this run: its readings begin %s after the run did and end %s after; check when the recording began",
			hours(log.seconds(*start)[0]), hours(log.seconds(*start)[len(log.Times)-1]))
	}
	r := &Report{Notes: []string{}}
	wind := swings(ws, kind)
	rates := figures(ws, func(w *rate.Window) rate.Value { return w.Rate })
	r.Rate = r.relate("s/day", rates, append([]Cause{wind}, causes...))
	if kind != rate.Level && kind != "" {
		elapsed := Cause{"elapsed time", "h", middles, true}
		r.Amplitude = r.relate(wind.Unit, scaled(figures(ws, func(w *rate.Window) rate.Value { return w.Amplitude }), amplitudeScale(kind)), append([]Cause{elapsed}, causes...))
	}
	if r.Rate == nil {
		r.Notes = append(r.Notes, "Too few windows have a rate, an amplitude and a reading for anything to be told.")
	}
	return r, nil
}

// Cause is what may act on a figure, a value for each window of a run, or for each
// of several runs; NaN where it is not known.
type Cause struct {
	Name, Unit string
	At         []float64
	silent     bool // it is allowed for, and not spoken of
}

// RelateRuns sets a figure of several runs, in a unit, against causes. times are
// when they began, ascending, in any unit: from one run to the next the figure may
// wander. It is nil where there are too few runs, or nothing changed.
func RelateRuns(unit string, times, figures []float64, causes []Cause) *Relation {
	changing, _ := changing(causes)
	var fs []figure
	for i, x := range figures {
		if !math.IsNaN(x) {
			fs = append(fs, figure{i, times[i], x, 1}) // what the runs differ by beside their causes is found from them
		}
	}
	s, columns := tabled(fs, changing)
	if len(changing) == 0 || s.Len() < LeastRuns+2*(len(changing)-1) {
		return nil
	}
	return regress(unit, s, changing, columns)
}

// LeastRuns is how many runs it takes to set them against one cause, two more
// for each further one.
const LeastRuns = 6

func hours(seconds float64) string { return fmt.Sprintf("%.1f h", seconds/3600) }

// amplitudeScale brings an amplitude to the unit in which it is shown.
func amplitudeScale(kind rate.AmplitudeKind) float64 {
	if kind == rate.LiftTime {
		return 1e3
	}
	return 1
}

// covered reports whether a log says something of a quarter of the run at least.
func covered(causes []Cause) bool {
	for _, c := range causes {
		n := 0
		for _, x := range c.At {
			if !math.IsNaN(x) {
				n++
			}
		}
		if 4*n >= len(c.At) {
			return true
		}
	}
	return false
}

// swings is the smoothed amplitude: it stands for the wind.
func swings(ws []rate.Window, kind rate.AmplitudeKind) Cause {
	c := Cause{Name: "amplitude", Unit: "°", At: make([]float64, len(ws))}
	switch kind {
	case rate.LiftTime:
		c.Name, c.Unit = "lift time", "ms"
	case rate.Level:
		c.Name, c.Unit = "loudness", "dB"
	}
	var obs []drift.Observation
	var at []int
	for i := range ws {
		c.At[i] = math.NaN()
		v := ws[i].Amplitude
		if kind == rate.Level && math.IsNaN(v.SE) {
			v.SE = 0.1
		}
		if !math.IsNaN(v.X) && !math.IsNaN(v.SE) {
			obs = append(obs, drift.Observation{Time: (ws[i].Start + ws[i].End) / 2, Value: v.X, SE: v.SE})
			at = append(at, i)
		}
	}
	for k, e := range drift.Smooth(obs, 0) {
		c.At[at[k]] = amplitudeScale(kind) * e.Level
	}
	return c
}

// figure is a figure of a window, or of a run, and where it is.
type figure struct {
	window      int
	time, x, se float64
}

func figures(ws []rate.Window, get func(*rate.Window) rate.Value) []figure {
	var out []figure
	for i := range ws {
		w := &ws[i]
		if v := get(w); !math.IsNaN(v.X) && !math.IsNaN(v.SE) && 2*w.Heard >= w.Beats {
			out = append(out, figure{i, (w.Start + w.End) / 2, v.X, v.SE})
		}
	}
	return out
}

func scaled(fs []figure, by float64) []figure {
	for i := range fs {
		fs[i].x *= by
		fs[i].se *= by
	}
	return fs
}

// relate regresses figures on causes, nil where that can't be done. The first of
// them, the wind, acts along a curve. A cause that does not change is left out,
// and said.
func (r *Report) relate(unit string, fs []figure, causes []Cause) *Relation {
	kept, still := changing(causes)
	for _, c := range still {
		if note := c.Name + " did not change."; !slices.Contains(r.Notes, note) {
			r.Notes = append(r.Notes, note)
		}
	}
	s, columns := tabled(fs, kept)
	if s.Len() < leastWindows {
		return nil
	}
	if kept[0].Name == causes[0].Name {
		columns = append(columns, bends(columns[0])...)
	}
	return regress(unit, s, kept, columns)
}

// changing tells the causes that change from those that stand still.
func changing(causes []Cause) (changing, still []Cause) {
	for _, c := range causes {
		if low, high := reach(c.At); high > low {
			changing = append(changing, c)
		} else {
			still = append(still, c)
		}
	}
	return changing, still
}

// tabled are figures as a series, and the causes beside them, where all are known.
func tabled(fs []figure, causes []Cause) (s stats.Series, columns [][]float64) {
	columns = make([][]float64, len(causes))
	for _, f := range fs {
		if slices.ContainsFunc(causes, func(c Cause) bool { return math.IsNaN(c.At[f.window]) }) {
			continue
		}
		s.Add(f.time, f.x, f.se)
		for k, c := range causes {
			columns[k] = append(columns[k], c.At[f.window])
		}
	}
	return s, columns
}

// leastWindows is how many windows it takes to tell anything: some for each of
// the bends, and as many again.
const leastWindows = 24

// bends are columns that let what hangs on x do so along a curve: how far x lies
// below each of some of its quantiles, closer together near either end where a
// spring's torque changes fastest. Straight lines are taken out of them, so that
// the coefficient of x stays that of the straight line.
func bends(x []float64) [][]float64 {
	sorted := slices.Sorted(slices.Values(x))
	mean := stats.Mean(x)
	var out [][]float64
	for _, q := range []float64{0.03, 0.1, 0.3, 0.7, 0.9} {
		knot := sorted[int(q*float64(len(x)-1))]
		column := make([]float64, len(x))
		var xx, xy float64
		for i := range x {
			column[i] = max(0, knot-x[i])
			xx += (x[i] - mean) * (x[i] - mean)
			xy += (x[i] - mean) * column[i]
		}
		for i := range x {
			column[i] -= xy / xx * x[i]
		}
		if variance(column) > 1e-12*xx/float64(len(x)) {
			out = append(out, column)
		}
	}
	return out
}

// reach is the range of the figures that are known.
func reach(xs []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, x := range xs {
		if !math.IsNaN(x) {
			low, high = min(low, x), max(high, x)
		}
	}
	return low, high
}

func regress(unit string, s stats.Series, causes []Cause, columns [][]float64) *Relation {
	all, ok := s.Regress(columns)
	if !ok {
		return nil
	}
	out := &Relation{Unit: unit, Windows: s.Len()}
	spoken := 0.0
	for _, c := range causes {
		if !c.silent {
			spoken++
		}
	}
	for k, c := range causes {
		if c.silent {
			continue
		}
		found, with := all.Coefficients[k], together(&all, k, len(causes))
		e := Effect{Cause: c.Name, Unit: c.Unit}
		if len(with) > 0 {
			// Each as if it were the only one of those that went together.
			alone, ok := s.Regress(without(columns, with))
			if !ok {
				continue
			}
			found = alone.Coefficients[k-before(with, k)]
			for _, other := range with {
				e.Together = append(e.Together, causes[other].Name)
			}
		}
		half := found.Doubt.Half()
		e.X, e.SE, e.Low, e.High, e.P = found.X, half/stats.TwoSided, found.X-half, found.X+half, found.Doubt.Beyond(found.X)
		e.Claimed = e.P <= wrong/spoken
		e.From, e.To = reach(columns[k])
		e.Share = share(s.Y, part(&all, columns, k, len(causes), e.X))
		out.Causes = append(out.Causes, e)
	}
	return out
}

// together are the other causes, of so many, from which one can't be told apart.
func together(r *stats.Regression, k, causes int) []int {
	if r.Coefficients[k].Inflation <= inflated {
		return nil
	}
	var with []int
	for other, c := range r.Alike[k][:causes] {
		if other != k && c*c > 1-1./inflated {
			with = append(with, other)
		}
	}
	return with
}

func without(columns [][]float64, leave []int) [][]float64 {
	var out [][]float64
	for k, c := range columns {
		if !slices.Contains(leave, k) {
			out = append(out, c)
		}
	}
	return out
}

// before is how many of some numbers are less than k.
func before(numbers []int, k int) int {
	n := 0
	for _, x := range numbers {
		if x < k {
			n++
		}
	}
	return n
}

// part is what a cause does to the figure, the bends of the first one included.
func part(r *stats.Regression, columns [][]float64, k, causes int, x float64) []float64 {
	out := make([]float64, len(columns[k]))
	for i := range out {
		out[i] = x * columns[k][i]
		for b := causes; k == 0 && b < len(columns); b++ {
			out[i] += r.Coefficients[b].X * columns[b][i]
		}
	}
	return out
}

// share is by how much less the variance of y is with a part taken off.
func share(y, part []float64) float64 {
	rest := make([]float64, len(y))
	for i := range y {
		rest[i] = y[i] - part[i]
	}
	return 1 - variance(rest)/variance(y)
}

func variance(x []float64) float64 {
	mean, sum := stats.Mean(x), 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum / float64(len(x))
}
