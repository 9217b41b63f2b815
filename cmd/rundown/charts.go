package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"strings"

	"golang.org/x/sync/errgroup"

	"rundown/analysis"
	"rundown/analysis/contacts"
	"rundown/analysis/environment"
	"rundown/analysis/fault"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
	"rundown/analysis/train"
	"rundown/plotting/chart"
	"rundown/plotting/page"
)

// picture is a chart of the results folder.
type picture struct {
	role   string // names the file too
	figure *chart.Figure
}

// charts draws every chart that the run has data for.
func (r *results) charts(ctx context.Context, run *analysis.Result) (err error) {
	if r.drawn, err = drawn(ctx, r.pictures(run)); err != nil {
		return err
	}
	for _, p := range r.drawn {
		if err := r.write(p.Role, p.Role+".png", holding(p.PNG)); err != nil {
			return err
		}
	}
	return nil
}

// mostDrawers is how many charts are drawn at a time: each takes some 10 MB.
const mostDrawers = 4

// drawn draws pictures, side by side where there are cores for it.
func drawn(ctx context.Context, pictures []picture) ([]page.Picture, error) {
	out := make([]page.Picture, len(pictures))
	var all errgroup.Group
	all.SetLimit(min(runtime.GOMAXPROCS(0), mostDrawers))
	for i, p := range pictures {
		all.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			var png bytes.Buffer
			err := p.figure.WritePNG(&png)
			out[i] = page.Picture{Role: p.role, Figure: p.figure, PNG: png.Bytes()}
			return err
		})
	}
	return out, all.Wait()
}

// shown is what the charts show.
func (r *results) shown(run *analysis.Result) chart.Run {
	show := chart.Run{
		Heading: heading(&run.Summary),
		Windows: run.Windows,
		Band:    run.Band,
		Kind:    run.AmplitudeKind,
		Events:  r.kept,
		Note:    prose.RateErrors(&run.Summary),
	}
	if b := run.Summary.Barrel; b != nil {
		show.Turns = &chart.Turns{Name: b.Name, Start: float64(run.Summary.Beat.First), Each: float64(b.Turn)}
	}
	return show
}

func (r *results) pictures(run *analysis.Result) []picture {
	show := r.shown(run)
	pictures := []picture{
		{"rate", chart.Rate(show)},
		{"period", chart.Period(show)},
		{"amplitude", chart.Amplitude(show)},
		{"beat-error", chart.BeatError(show)},
		{"isochronism", chart.Isochronism(show)},
		{"hesitations", chart.Hesitations(show, run.Found, escapeWheel(r.train))},
		{"stability", chart.Stability(show.Heading, run.Stabilities, clockFloor(run))},
	}
	if run.Environment != nil {
		pictures = append(pictures, picture{"environment", chart.Environment(show, courses(run, r.around.log))})
	}
	if len(run.Sounds) > 0 {
		pictures = append(pictures, picture{"beat", soundOfABeat(show.Heading, run)})
	}
	if r.turns != nil {
		pictures = append(pictures, picture{"map", chart.Map(show.Heading, r.turns.cells, r.turns.starts, r.turns.teeth, run.Found)})
	}
	return append(pictures, turnPictures(run, r.train)...)
}

// soundOfABeat shows what a beat sounds like at full wind, in the middle and near
// the end.
func soundOfABeat(h chart.Heading, run *analysis.Result) *chart.Figure {
	when := []string{"full wind", "middle", "near the end"}
	var portraits []chart.Portrait
	sounds := run.Sounds
	if n := len(sounds); n > len(when) { // there was more than one mark
		sounds = []contacts.Portrait{sounds[0], sounds[n/2], sounds[n-1]}
	}
	for i, p := range sounds {
		portraits = append(portraits, chart.Portrait{Title: when[i], Portrait: p})
	}
	if run.Doubt != "" {
		return chart.Beat(h, portraits, "the clearest sound of the beat", run.Doubt)
	}
	return chart.Beat(h, portraits, "the middle of the lift", "")
}

// courses are those of what a logger wrote, with what they do to the rate.
func courses(run *analysis.Result, log *environment.Log) []chart.Course {
	var middles []float64
	for _, w := range run.Windows {
		middles = append(middles, (w.Start+w.End)/2)
	}
	start := startOf(run.Notes)
	if start == nil {
		start = &environment.Start{}
	}
	var out []chart.Course
	for k, c := range log.Columns {
		course := chart.Course{Name: c.Name, Unit: c.Unit, Values: log.At(k, *start, middles)}
		if run.Environment.Rate != nil {
			for _, e := range run.Environment.Rate.Causes {
				if e.Cause == c.Name && e.Claimed && len(e.Together) == 0 {
					course.Rate = e.X
				}
			}
		}
		out = append(out, course)
	}
	return out
}

// escapeWheel is one turn of the escape wheel, of no beats where it is not known.
func escapeWheel(t *train.Train) chart.Turn {
	if t == nil {
		return chart.Turn{}
	}
	teeth := t.Arbors[len(t.Arbors)-1].Escape
	return chart.Turn{Arbor: "escape wheel", Beats: 2 * float64(teeth), Teeth: teeth}
}

// clockFloor is what the recorder's clock lets measure.
func clockFloor(run *analysis.Result) chart.Floor {
	f := chart.Floor{Name: "common recorder's clock"}
	if run.Recording.ClockSource == analysis.ClockReference {
		f.Name = "recorder's corrected clock"
	}
	for _, c := range run.ClockFloor {
		f.Tau, f.Sigma = append(f.Tau, c.Tau), append(f.Sigma, c.Sigma)
	}
	return f
}

// heading says which run a chart shows: by the file's name alone, since charts
// are passed on.
func heading(s *analysis.Summary) chart.Heading {
	name := "standard input"
	if first := s.Recording.Paths[0]; first != stdinName {
		name = filepath.Base(first)
	}
	return chart.Heading{Name: name, Nominal: float64(s.Beat.Nominal)}
}

// turnMap is the run turn by turn of the escape wheel.
type turnMap struct {
	teeth  int // by which its columns are numbered; 0 numbers them by beats
	cells  fault.Map
	starts []float64 // of the rows and the end of the last, true seconds
}

// mostColumns is how many beats a turn may have for its map to be readable.
const mostColumns = 400

// newTurnMap draws up the map of a run: of its escape wheel, or where that is
// not known, of whatever comes round most strongly in a whole number of beats.
// It returns nil where there is neither, or less than two turns.
func newTurnMap(run *analysis.Result, t *train.Train) *turnMap {
	m := &turnMap{}
	columns := 0
	switch {
	case t != nil:
		m.teeth = t.Arbors[len(t.Arbors)-1].Escape
		columns = 2 * m.teeth
	case len(run.Found) > 0:
		if p := run.Found[0].PeriodBeats; p == math.Round(p) {
			columns = int(p)
		}
	}
	if columns < 3 || columns > mostColumns || run.Beat.Counted < 2*int64(columns) {
		return nil
	}
	m.cells = run.Faults.Map(columns, chart.MostRows(columns))
	at := analysis.Timeline(run.Windows)
	for row := range m.cells.Rows {
		m.starts = append(m.starts, at(m.cells.First+int64(row*columns*m.cells.TurnsPerRow)))
	}
	m.starts = append(m.starts, float64(run.Summary.Beat.Last))
	return m
}

// fewestTurns is how many turns an average over them takes.
const fewestTurns = 3

// turnPictures draws what one turn of each arbor does to the beats, and of
// whatever else comes round most strongly.
func turnPictures(run *analysis.Result, t *train.Train) []picture {
	var pictures []picture
	draw := func(name string, beats float64, teeth int) bool {
		turns := int(float64(run.Beat.Heard) / beats)
		if beats <= 2 || turns < fewestTurns {
			return false
		}
		turn := chart.Turn{Arbor: name, Beats: beats, Teeth: teeth, Turns: turns, Last: run.LastHeard}
		turn.Elsewhere = fault.Elsewhere(run.Found, beats)
		for _, p := range run.Faults.Fold(beats, 0).Positions {
			mean := rate.Value{X: p.Mean, SE: p.SE}
			if turn.Elsewhere == nil {
				mean.X, mean.SE = p.WithLosses()
			}
			turn.Mean = append(turn.Mean, mean)
		}
		role := fmt.Sprintf("turn-%d-%s", len(pictures)+1, fileName(name))
		pictures = append(pictures, picture{role, chart.Fold(heading(&run.Summary), turn, run.Found)})
		return true
	}
	var drawn []float64
	if t != nil {
		for i := len(t.Arbors) - 1; i >= 0; i-- {
			beats, _ := t.BeatsPerTurn(i).Float64()
			if draw(t.Title(i), beats, max(t.Arbors[i].Wheel, t.Arbors[i].Escape)) {
				drawn = append(drawn, beats)
			}
		}
	}
	if len(run.Found) > 0 {
		strongest := run.Found[0]
		for _, beats := range drawn {
			if math.Abs(beats/strongest.PeriodBeats-1) < 1e-3 {
				return pictures
			}
		}
		name := strongest.Match
		if name == "" {
			name = fmt.Sprintf("part that turns once in %.6g beats", strongest.PeriodBeats)
		}
		draw(name, strongest.PeriodBeats, 0)
	}
	return pictures
}

// fileName is a name as it may stand in the name of a file on any system.
func fileName(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	return strings.Join(words, "-")
}
