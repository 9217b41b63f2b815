package runs

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// Read reads a results folder. It needs summary.json, windows.csv, events.csv
// and beats.csv, and checks that they belong together. A run without a beat
// has its summary alone. Errors are one line that names the file and says what
// to do.
func Read(dir string) (*Run, error) {
	r := &Run{Path: dir}
	if err := r.readSummary(); err != nil {
		return nil, err
	}
	if r.Summary.Status != analysis.OK {
		return r, nil
	}
	for _, read := range []func() error{r.readEvents, r.readWindows, r.readBeats} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	rate.SetRates(r.Windows, 7200/float64(r.Summary.Beat.Nominal))
	rate.Smooth(r.Windows)
	r.jitter()
	return r, nil
}

// The rows that are read at most: of any run that a movement can make, and what
// they take in memory is some 50 MB a table.
const (
	mostWindows = 1 << 18 // of a second each, three days
	mostEvents  = 1 << 19
	mostBeats   = 1 << 23 // two weeks
)

func (r *Run) readSummary() error {
	const largest = 1 << 20
	path := filepath.Join(r.Path, "summary.json")
	file, err := open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, largest))
	if err != nil {
		return explain(path, err)
	}
	if err := json.Unmarshal(text, &r.Summary); err != nil {
		return damaged(path, plainJSON(err))
	}
	if err := r.checkSummary(); err != nil {
		return damaged(path, err)
	}
	r.Kind = rate.AmplitudeKind(r.Summary.Amplitude.Kind)
	r.Summary.Beat.Mark = printable(r.Summary.Beat.Mark)
	for i := range r.Summary.Recurrences {
		c := &r.Summary.Recurrences[i]
		c.Match = printable(c.Match)
	}
	return nil
}

// printable leaves out what a terminal could take for a command: the file may
// come from anywhere.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, text)
}

// plainJSON says in words what is wrong with a text that should be JSON.
func plainJSON(err error) error {
	var mistyped *json.UnmarshalTypeError
	if errors.As(err, &mistyped) {
		return fmt.Errorf("%q is not what it should be", mistyped.Field)
	}
	return errors.New("it is cut short, or no summary")
}

func (r *Run) checkSummary() error {
	s := &r.Summary
	within := func(x analysis.Number, low, high float64) bool { return float64(x) >= low && float64(x) <= high }
	switch {
	case s.Schema > analysis.Schema:
		return errors.New("it was written by a later version of this program")
	case s.Schema != analysis.Schema, s.Status != analysis.OK && s.Status != analysis.NoBeat:
		return errors.New("it is no summary of an analysis")
	case s.Status == analysis.NoBeat:
		return nil
	case s.Recording.SampleRate <= 0, !within(s.Recording.Duration, 1e-3, 1e9), !within(s.Recording.ClockPPM, -1e5, 1e5):
		return errors.New("the recording's figures make no sense")
	case !within(s.Beat.Nominal, 1, 1e7), !within(s.Beat.Period, 1e-4, 1e4), s.Beat.Counted < 0,
		!within(s.Beat.First, 0, 1e9), !within(s.Beat.Last, float64(s.Beat.First), 1e9):
		return errors.New("the beat's figures make no sense")
	case s.StableBand.Tolerance.Known() && !within(s.StableBand.Tolerance, 0, 86400):
		return errors.New("the stable band makes no sense")
	}
	for _, c := range s.Recurrences {
		if !within(c.PeriodBeats, 1, 1e12) || !within(c.Size, -1e9, 1e9) || c.Occurrences < 0 || c.Opportunities < c.Occurrences {
			return errors.New("a recurrence makes no sense")
		}
	}
	return nil
}

func (r *Run) readEvents() error {
	t, err := openTable(r.Path, "events.csv", "kind", "beat", "start_s", "end_s", "shift_ms")
	if err != nil {
		return err
	}
	defer t.close()
	for t.next(mostEvents) {
		kind := slices.Index(beat.Kinds, beat.Kind(t.text(0)))
		if kind < 0 {
			t.fail("%.20q is no kind of event", t.text(0))
			break
		}
		// A kind of one's own: part of the row's text would keep all of it in memory.
		e := beat.Event{Kind: beat.Kinds[kind], Beat: t.integer(1), Start: t.number(2), End: t.number(3), Shift: t.number(4) / 1e3}
		switch {
		case e.End < e.Start || e.Start < 0:
			t.fail("an event ends before it starts")
		}
		r.Events = append(r.Events, e)
	}
	all := 0
	for _, n := range r.Summary.Events {
		all += n
	}
	if t.err == nil && len(r.Events) != all {
		return damaged(t.path, fmt.Errorf("%d events, where the summary counts %d", len(r.Events), all))
	}
	return t.err
}

func (r *Run) readWindows() error {
	t, err := openTable(r.Path, "windows.csv", "start_s", "end_s", "beats", "heard", "period_s", "period_se_s",
		"beat_error_ms", "beat_error_se_ms", "amplitude", "amplitude_se", "level_db")
	if err != nil {
		return err
	}
	defer t.close()
	scale := 1.0
	if r.Kind == rate.LiftTime {
		scale = 1e-3
	}
	value := func(column int, by float64) rate.Value {
		v := rate.Value{X: by * t.maybe(column), SE: by * t.maybe(column+1)}
		if v.SE < 0 {
			t.fail("a standard error is negative")
		}
		return v
	}
	end := 0.0
	for t.next(mostWindows) {
		w := rate.Window{
			Start: t.number(0), End: t.number(1), Beats: int(t.integer(2)), Heard: int(t.integer(3)),
			Period: value(4, 1), BeatError: value(6, 1e-3), Amplitude: value(8, scale),
			Level: rate.Value{X: t.maybe(10), SE: math.NaN()},
		}
		switch {
		case math.Abs(w.Start-end) > 1e-5 || w.End <= w.Start:
			t.fail("the windows do not follow each other")
		case w.Heard > w.Beats:
			t.fail("more beats heard than there were")
		case w.Period.X <= 0:
			t.fail("a period that is not positive")
		}
		end = w.End
		r.Windows = append(r.Windows, w)
	}
	if t.err == nil && math.Abs(end-float64(r.Summary.Recording.Duration)) > 1e-3 {
		return damaged(t.path, errors.New("it ends before the recording does"))
	}
	r.stops()
	return t.err
}

// stops marks the windows that a stop touches.
func (r *Run) stops() {
	for _, e := range r.Events {
		if e.Kind != beat.Stop {
			continue
		}
		for i := range r.Windows {
			if w := &r.Windows[i]; w.Start <= e.End && w.End > e.Start {
				w.Stopped = true
			}
		}
	}
}

func (r *Run) readBeats() error {
	t, err := openTable(r.Path, "beats.csv", "beat", "heard", "residual_ms")
	if err != nil {
		return err
	}
	defer t.close()
	for t.next(mostBeats) {
		if n := t.integer(0); n != int64(len(r.Residuals)) {
			t.fail("beat %d, where %d should be", n, len(r.Residuals))
		}
		r.Residuals = append(r.Residuals, residual(t.text(1) == "1", t.maybe(2)/1e3))
	}
	if t.err == nil && int64(len(r.Residuals)) != r.Summary.Beat.Counted {
		return damaged(t.path, fmt.Errorf("%d beats, where the summary counts %d", len(r.Residuals), r.Summary.Beat.Counted))
	}
	return t.err
}
