package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

const synthUsage = `Usage: rundown synth [flags] OUT.wav

Makes a recording of a movement that does not exist, and writes the truth beside
it: OUT.truth.json holds parameters, rates and events, OUT.truth.csv each beat.

`

// synthFlags are the settings of the synth command as they were given.
type synthFlags struct {
	args     []string
	rec      synth.Recording // that the flags change
	recipe   string
	demo     bool
	random   bool
	room     string
	late     float64
	missed   float64
	badTooth int
	common
}

// bind defines the flags. Those that stand for a field of the recording change
// it, and leave it as it is where they are not given.
func (a *synthFlags) bind() {
	a.common = newCommon("synth")
	f, m, r := a.set, &a.rec.Movement, &a.rec.Recorder
	number := func(x *float64, name, usage string) { f.Float64Var(x, name, *x, usage) }
	duration := func(x *float64, name, usage string) { f.Var(seconds{x}, name, usage) }

	f.StringVar(&a.recipe, "recipe", "", "start from a TOML `FILE`, which can hold every setting")
	f.BoolVar(&a.demo, "demo", false, "start from the recording of the demo")
	f.BoolVar(&a.random, "random", false, "start from a movement, room and recorder drawn from the seed")
	f.StringVar(&a.room, "room", "", "record a room `NAME` without a movement: "+strings.Join(synth.Rooms(), ", "))
	f.Uint64Var(&a.rec.Seed, "seed", a.rec.Seed, "seed `N` of everything random")
	duration(&a.rec.Duration, "duration", "length of the recording (default 10m)")
	number(&m.BeatsPerHour, "bph", "nominal beats per hour, `N` (default 18000)")
	duration(&m.BeatError, "beat-error", "beat error: half of tick-to-tock minus tock-to-tick")
	number(&m.Rate, "rate", "rate `S` in seconds per day, positive when it gains")
	number(&m.Isochronism, "isochronism", "change `S` of the rate with each degree of amplitude, seconds per day")
	number(&m.Wander, "wander", "random walk `S` of the rate in an hour, seconds per day")
	duration(&m.Jitter, "jitter", "scatter of each beat about its place; a negative one stands for none (default 30µs)")
	number(&m.LiftAngle, "lift-angle", "lift angle `DEG` (default 52)")
	number(&m.Mainspring.Full, "amplitude", "amplitude `DEG` at full wind (default 280)")
	number(&m.Mainspring.End, "end-amplitude", "amplitude `DEG` at the end of the run time (default half of it)")
	duration(&m.Mainspring.RunTime, "run-time", "time in which the mainspring runs down (default never)")
	duration(&m.Stop, "stop", "the movement stops after that time")
	number(&a.rec.Sound.TockLevel, "tock", "loudness `DB` of tock against tick")
	f.StringVar(&a.rec.Room.Noise, "noise", a.rec.Room.Noise, "noise of the room, `NAME`: none, "+strings.Join(synth.Textures(), ", ")+` (default "white")`)
	number(&a.rec.Room.SNR, "snr", "peak of the tick over the RMS of the noise from 1.5 to 16 kHz, `DB` (default 40)")
	f.Float64Var(&a.late, "late", 0, "`N` hesitations an hour, of 3 to 30 ms")
	f.Float64Var(&a.missed, "missed", 0, "`N` beats an hour that make no sound")
	f.IntVar(&a.badTooth, "bad-tooth", 0, "an escape wheel of `N` teeth, one of which costs 4 ms in one turn of five")
	f.IntVar(&r.SampleRate, "sample-rate", r.SampleRate, "nominal sample rate `HZ` (default 48000)")
	f.IntVar(&r.Bits, "bits", r.Bits, "width `N` of a sample, 16 or 24 (default 16)")
	f.BoolVar(&r.Float, "float", r.Float, "store samples as floating point of 32 bits")
	number(&r.ClockPPM, "clock-ppm", "error `X` of the recorder's clock, parts per million, positive when it runs fast")
	number(&r.ClockDrift, "clock-drift", "its change `X` in an hour, parts per million")
	number(&r.Reference.Hz, "reference-hz", "a quartz clock's ticks of `F` Hz on a second channel")
}

// seconds is a flag that is given as a Go duration and kept in seconds.
type seconds struct{ x *float64 }

func (s seconds) Type() string { return "DUR" }

func (s seconds) String() string {
	if s.x == nil || *s.x == 0 {
		return ""
	}
	return time.Duration(*s.x * 1e9).String()
}

func (s seconds) Set(text string) error {
	d, err := time.ParseDuration(text)
	*s.x = d.Seconds()
	return err
}

// parseSynth reads the command line.
func parseSynth(args []string) (command, error) {
	a := &synthFlags{args: args}
	a.bind()
	if err := a.set.Parse(args); err != nil {
		return a, err
	}
	return a, a.check()
}

// recording is what the flags ask for: they are read once more, to change what it
// starts from.
func (a *synthFlags) recording() (rec synth.Recording, err error) {
	if rec, err = a.start(); err != nil {
		return rec, err
	}
	b := &synthFlags{rec: rec}
	b.bind()
	if err := b.set.Parse(a.args); err != nil {
		return rec, usageError{err}
	}
	b.addFaults()
	return b.rec, b.checkRecording()
}

// check finds what is wrong with the command line as a whole.
func (a *synthFlags) check() error {
	if a.set.NArg() != 1 || a.set.Arg(0) == "" {
		return errors.New("synth needs the name of one recording to write")
	}
	given := slices.DeleteFunc([]string{"recipe", "demo", "random", "room"}, func(name string) bool { return !a.set.Changed(name) })
	if len(given) > 1 {
		return fmt.Errorf("--%s: give one of them", strings.Join(given, " and --"))
	}
	if a.set.Changed("room") && !slices.Contains(synth.Rooms(), a.room) {
		return fmt.Errorf("--room %s: there is none of that name, see --help", a.room)
	}
	return nil
}

// start returns the recording that single flags change.
func (a *synthFlags) start() (synth.Recording, error) {
	duration, snr, rate := a.rec.Duration, a.rec.Room.SNR, a.rec.Recorder.SampleRate
	if duration == 0 {
		duration = 600
	}
	if snr == 0 {
		snr = 40
	}
	if rate == 0 {
		rate = 48000
	}
	switch {
	case a.demo:
		return synth.Demo(), nil
	case a.random:
		return synth.Random(a.rec.Seed, duration, snr), nil
	case a.room != "":
		return synth.Quiet(a.room, a.rec.Seed, duration, rate), nil
	case a.recipe != "":
		return loadRecipe(a.recipe)
	}
	return synth.Recording{}, nil
}

// addFaults adds the faults that have a flag of their own.
func (a *synthFlags) addFaults() {
	m := &a.rec.Movement
	if a.late > 0 {
		m.Faults = append(m.Faults, synth.Fault{Kind: "late", Occasion: synth.Occasion{PerHour: a.late}, Size: 3e-3, Upto: 30e-3})
	}
	if a.missed > 0 {
		m.Faults = append(m.Faults, synth.Fault{Kind: "missed", Occasion: synth.Occasion{PerHour: a.missed}})
	}
	if a.badTooth > 0 {
		m.Recurrences = append(m.Recurrences, synth.BadTooth(a.badTooth, 7%(2*a.badTooth), -1, 0.2, 4e-3)...)
	}
}

func (a *synthFlags) checkRecording() error {
	if err := a.rec.Check(); err != nil {
		return usageError{err}
	}
	if r := a.rec.Recorder; !r.Float && r.Bits != 0 && r.Bits != 16 && r.Bits != 24 {
		return usageError{fmt.Errorf("samples of %d bits can't be written: give 16 or 24, or --float", r.Bits)}
	}
	return nil
}

func loadRecipe(path string) (synth.Recording, error) {
	file, err := os.Open(path)
	if err != nil {
		return synth.Recording{}, err
	}
	defer file.Close()
	rec, err := synth.ReadRecipe(bufio.NewReader(file))
	if err != nil {
		return rec, fmt.Errorf("%s: %w", path, err)
	}
	return rec, nil
}

func (a *synthFlags) run(ctx context.Context, s streams) (int, error) {
	rec, err := a.recording()
	if err != nil {
		return exitFailure, err
	}
	line, err := writeRecording(ctx, a.set.Arg(0), rec)
	if errors.Is(err, context.Canceled) {
		err = fmt.Errorf("interrupted: %s is as it was", a.set.Arg(0))
	}
	if err == nil {
		fmt.Fprintln(s.out, line)
	}
	return exitOK, err
}

// writeRecording writes a recording and its truth, all three files or none, and
// returns a line about them.
func writeRecording(ctx context.Context, path string, rec synth.Recording) (string, error) {
	truth := rec.Truth()
	files := new(fileSet)
	defer files.abort()
	for _, file := range soundFiles(ctx, path, rec, truth) {
		if err := files.write(file.name, file.fill); err != nil {
			return "", err
		}
	}
	if err := files.commit(); err != nil {
		return "", err
	}
	return soundLine(path, truth), nil
}

// soundFiles are the files of a recording: its truth, and it.
func soundFiles(ctx context.Context, path string, rec synth.Recording, truth *synth.Truth) []output {
	json, csv := truthNames(path)
	return []output{
		{json, func(w io.Writer) error { return rec.WriteTruth(w, truth) }},
		{csv, func(w io.Writer) error { return synth.WriteBeats(w, truth.Beats) }},
		{path, func(w io.Writer) error { return writeSound(ctx, w, rec.Render()) }},
	}
}

func truthNames(path string) (json, csv string) {
	return beside(path, ".truth.json"), beside(path, ".truth.csv")
}

// soundLine tells of a recording that was made.
func soundLine(path string, truth *synth.Truth) string {
	json, csv := truthNames(path)
	length := time.Duration(math.Round(truth.Duration)) * time.Second
	return fmt.Sprintf("%s: %v with %d beats; the truth is in %s and %s",
		wavio.OneLine(path), length, len(truth.Beats), wavio.OneLine(json), wavio.OneLine(csv))
}

// writeSound writes all of src as WAV, until ctx ends.
func writeSound(ctx context.Context, w io.Writer, src wavio.Source) error {
	out, err := wavio.NewWriter(w, src.Format())
	if err != nil {
		return err
	}
	if err := wavio.Copy(out, interrupted{src, ctx}); err != nil {
		return err
	}
	return out.Close()
}

// interrupted is a source that fails once its context has ended.
type interrupted struct {
	wavio.Source
	ctx context.Context
}

func (s interrupted) Read(dst [][]float32) (int, error) {
	if s.ctx.Err() != nil {
		return 0, s.ctx.Err()
	}
	return s.Source.Read(dst)
}

// fileSet is a set of files that come into place together.
type fileSet struct{ temporary, final []string }

// write fills a temporary file that commit will bring to path.
func (s *fileSet) write(path string, fill func(io.Writer) error) error {
	temporary := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%d.part", filepath.Base(path), os.Getpid()))
	file, err := os.OpenFile(temporary, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if err != nil {
		return cannotWrite(path, err)
	}
	s.temporary, s.final = append(s.temporary, temporary), append(s.final, path)
	if err := errors.Join(fill(file), file.Close()); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

// commit moves the files into place.
func (s *fileSet) commit() error {
	for _, path := range s.final {
		if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
			return fmt.Errorf("%s: it is there and no file; choose another name", wavio.OneLine(path))
		}
	}
	for i, path := range s.final {
		if err := os.Rename(s.temporary[i], path); err != nil {
			return cannotWrite(path, err)
		}
	}
	s.temporary = nil
	return nil
}

// abort removes what has not come into place.
func (s *fileSet) abort() {
	for _, path := range s.temporary {
		os.Remove(path)
	}
}

// cannotWrite names the file in one line, with what to do about it.
func cannotWrite(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("%s: %w; choose another place to write to", wavio.OneLine(path), err)
}
