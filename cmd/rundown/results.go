package main

import (
	"context"
	"fmt"
	"io"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/environment"
	"rundown/analysis/export"
	"rundown/analysis/prose"
	"rundown/analysis/train"
	"rundown/dsp/wavio"
	"rundown/plotting/page"
)

// results takes what an analysis finds into a folder. It is the analysis.Sink
// of the command.
type results struct {
	folder *export.Folder
	beats  tableFile[*export.Beats]
	events tableFile[*export.Events]
	train  *train.Train     // nil where it is not known
	joints []analysis.Joint // of the parts of the run
	turns  *turnMap         // nil where there is no map
	kept   []beat.Event
	drawn  []page.Picture
	around surroundings
	files  map[string]string // role to name
}

// surroundings are what a logger wrote beside a run: nil for nothing, and the
// file's name.
type surroundings struct {
	log  *environment.Log
	name string
}

// relate sets the run against what the logger wrote. Where that can't be done,
// the run is told all the same, and a problem says why.
func (r *results) relate(run *analysis.Result) {
	if r.around.log == nil {
		return
	}
	report, err := environment.Relate(run.Windows, run.AmplitudeKind, r.around.log, startOf(run.Notes))
	if err != nil {
		run.Recording.Problems = append(run.Recording.Problems, fmt.Sprintf("%s was not used: %v.", r.around.name, err))
		return
	}
	report.Log = r.around.name
	run.Environment = report
}

// resultNames are the names of all files that an analysis may write.
var resultNames = []string{
	"beats.csv", "events.csv", "windows.csv", "recurrences.csv", "stability.csv",
	"rate.png", "period.png", "amplitude.png", "beat-error.png", "isochronism.png", "hesitations.png", "beat.png", "stability.png", "map.png", "environment.png", "turn-[0-9]*-*.png",
	"clips/[0-9][0-9]-*-beat-*.wav", "report.html", export.SummaryName,
}

// maxKept is how many events the charts show: more than their lanes have dots.
const maxKept = 1 << 15

// tableFile is a table and the file that it is streamed to.
type tableFile[T any] struct {
	table T
	file  io.Closer
}

// writeResults analyses src and leaves the complete results in dir, or what
// was there before.
func writeResults(ctx context.Context, src wavio.Source, opt analysis.Options, around surroundings, dir string) (*analysis.Summary, error) {
	folder, err := export.NewFolder(dir, resultNames...)
	if err != nil {
		return nil, err
	}
	defer folder.Abort()
	r := &results{folder: folder, train: opt.Train, joints: analysis.Joints(opt.Paths), around: around, files: map[string]string{}}
	if err := r.open(); err != nil {
		return nil, err
	}
	run, err := analysis.Run(ctx, src, opt, r)
	if err != nil {
		return nil, err
	}
	if err := r.finish(ctx, run); err != nil {
		return nil, err
	}
	return &run.Summary, folder.Commit()
}

// open begins the tables that grow with the recording.
func (r *results) open() error {
	beats, err := r.create("beats", "beats.csv")
	if err != nil {
		return err
	}
	r.beats = tableFile[*export.Beats]{export.NewBeats(beats), beats}
	events, err := r.create("events", "events.csv")
	if err != nil {
		return err
	}
	r.events = tableFile[*export.Events]{export.NewEvents(events), events}
	return nil
}

func (r *results) create(role, name string) (io.WriteCloser, error) {
	r.files[role] = name
	return r.folder.Create(name)
}

func (r *results) write(role, name string, fill func(io.Writer) error) error {
	r.files[role] = name
	return r.folder.Write(name, fill)
}

// Beats implements analysis.Sink.
func (r *results) Beats(rows []analysis.Row) error {
	return r.beats.table.Append(rows)
}

// Events implements analysis.Sink.
func (r *results) Events(events []beat.Event) error {
	r.kept = append(r.kept, events[:min(len(events), maxKept-len(r.kept))]...)
	return r.events.table.Append(events)
}

// finish completes the tables and draws the charts.
func (r *results) finish(ctx context.Context, run *analysis.Result) error {
	for _, file := range []io.Closer{r.beats.file, r.events.file} {
		if err := file.Close(); err != nil {
			return err
		}
	}
	s := &run.Summary
	s.Recording.Problems = append(s.Recording.Problems, prose.Jumps(r.joints, s, r.kept)...)
	kind := run.AmplitudeKind
	err := r.write("windows", "windows.csv", func(w io.Writer) error { return export.Windows(w, run.Windows, run.ClockErrors, kind) })
	if err != nil {
		return err
	}
	err = r.write("recurrences", "recurrences.csv", func(w io.Writer) error { return export.Recurrences(w, s.Recurrences) })
	if err != nil {
		return err
	}
	if s.Status == analysis.OK {
		err := r.write("stability_table", "stability.csv", func(w io.Writer) error { return export.Stability(w, run.Stabilities, run.ClockFloor) })
		if err != nil {
			return err
		}
		r.turns = newTurnMap(run, r.train)
		r.relate(run)
		if err := r.charts(ctx, run); err != nil {
			return err
		}
	}
	if err := r.clips(run); err != nil {
		return err
	}
	// The report goes last, when the clips have their names.
	show := page.Run{Result: run, Events: r.kept, Pictures: r.drawn}
	if err := r.write("report", "report.html", func(w io.Writer) error { return page.Write(w, show) }); err != nil {
		return err
	}
	s.Files = r.files
	s.Files["summary"] = export.SummaryName
	return r.folder.Write(export.SummaryName, func(w io.Writer) error { return analysis.WriteJSON(w, s) })
}

// clips writes the sound around events, numbered in order of time.
func (r *results) clips(run *analysis.Result) error {
	s := &run.Summary
	for i, c := range run.Clips {
		name := fmt.Sprintf("clips/%02d-%s-beat-%d.wav", i+1, c.Event.Kind, c.Event.Beat)
		err := r.folder.Write(name, func(w io.Writer) error { return export.Clip(w, c, s.Recording.SampleRate) })
		if err != nil {
			return err
		}
		s.Clips = append(s.Clips, analysis.ClipFile{File: name, Kind: c.Event.Kind, Beat: c.Event.Beat, Start: analysis.Number(c.Start)})
	}
	return nil
}
