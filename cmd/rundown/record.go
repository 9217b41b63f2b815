package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"rundown/analysis/prose"
	"rundown/dsp/capture"
	"rundown/dsp/wavio"
)

// recordFlags are the settings of the record command as they were given: those
// of the recording, and those of the analysis that follows.
type recordFlags struct {
	analyseFlags
	microphone capture.Settings
	length     time.Duration
	afterStop  time.Duration
	devices    bool
	only       bool // no analysis
	stream     bool // standard input is recorded
}

// bindMicrophone defines the flags that say what to record.
func bindMicrophone(f *pflag.FlagSet, s *capture.Settings) {
	f.StringVar(&s.Device, "device", "", "record from the device `NAME`, as --devices lists it (default: the system's)")
	f.StringVar(&s.Through, "through", "", "record through `WAY`: "+strings.Join(capture.Ways(), ", ")+" (default: the first that there is)")
	f.IntVar(&s.SampleRate, "sample-rate", 0, "sample rate `HZ`: 44100, 48000 or 96000 (default: the device's, or 48000)")
	f.IntVar(&s.Channels, "channels", 0, "record `N` channels (default: those of the device, at most 2)")
	f.IntVar(&s.Bits, "bits", 0, "width `N` of a sample, 16 or 24 (default 16)")
}

// checkMicrophone finds what is wrong with the values given.
func checkMicrophone(f *pflag.FlagSet, s capture.Settings) error {
	switch {
	case f.Changed("sample-rate") && !slices.Contains(capture.Rates, s.SampleRate):
		return fmt.Errorf("--sample-rate %d: must be 44100, 48000 or 96000", s.SampleRate)
	case f.Changed("channels") && (s.Channels < 1 || s.Channels > 32):
		return fmt.Errorf("--channels %d: must be from 1 to 32", s.Channels)
	case f.Changed("bits") && s.Bits != 16 && s.Bits != 24:
		return fmt.Errorf("--bits %d: must be 16 or 24", s.Bits)
	case f.Changed("through") && !slices.Contains(capture.Ways(), s.Through):
		return fmt.Errorf("--through %s: must be one of %s", s.Through, strings.Join(capture.Ways(), ", "))
	}
	return nil
}

const recordUsage = `Usage: rundown record [flags] NEW.wav
       rundown record [flags] - NEW.wav

Records a run from a microphone, or from standard input (-), says meanwhile how it
goes, and analyses it at the end. Read the cautions in the README before you fix a
microphone to a movement under power.

`

// parseRecord reads the command line.
func parseRecord(args []string) (command, error) {
	a := new(recordFlags)
	a.common = newCommon("record")
	f := a.set
	f.DurationVar(&a.length, "for", 0, "end after `DUR`, as 36h (default: with Ctrl-C)")
	f.DurationVar(&a.afterStop, "after-stop", 10*time.Minute, "end when no beat was heard for `DUR` after there had been one; 0 never does")
	f.BoolVar(&a.devices, "devices", false, "list the devices, and record nothing")
	f.BoolVar(&a.only, "only", false, "record only, without the analysis")
	bindMicrophone(f, &a.microphone)
	a.bind()
	if err := f.Parse(args); err != nil {
		return a, err
	}
	names := f.Args()
	if i := slices.Index(names, stdinName); i >= 0 {
		a.stream, names = true, slices.Delete(slices.Clone(names), i, i+1)
	}
	a.recordings = names
	return a, a.checkRecord()
}

func (a *recordFlags) checkRecord() error {
	switch {
	case a.devices:
		return nil
	case len(a.recordings) != 1 || a.recordings[0] == "" || a.recordings[0] == stdinName:
		return errors.New("record needs the name of one recording to write; see: rundown record --help")
	case a.set.Changed("for") && a.length < time.Second:
		return fmt.Errorf("--for %v: must be at least 1s", a.length)
	case a.afterStop < 0:
		return fmt.Errorf("--after-stop %v: must not be negative", a.afterStop)
	case a.stream && (a.set.Changed("device") || a.set.Changed("through")):
		return errors.New("standard input is recorded as it comes: leave out --device and --through")
	}
	return cmp.Or(checkMicrophone(a.set, a.microphone), a.check())
}

func (a *recordFlags) run(ctx context.Context, s streams) (int, error) {
	if a.devices {
		return exitOK, listDevices(s.out)
	}
	work, stop := untilSecond(ctx)
	defer stop()
	rec, err := a.record(ctx, s)
	code := exitOK
	if err != nil {
		code = fail(s.err, err)
	}
	if a.only || rec == nil || rec.Frames() == 0 || err != nil && !errors.Is(err, capture.ErrLost) {
		return code, nil
	}
	a.recordings, a.noted = rec.Parts(), rec.Notes()
	found, err := a.analyse(work, s)
	if err != nil {
		return exitFailure, err
	}
	told, err := a.report(found, s)
	return max(code, told), err
}

// record records until the end; the recording is nil where nothing began. What
// it says goes to standard error.
func (a *recordFlags) record(ctx context.Context, s streams) (*capture.Recording, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	rec := &capture.Recording{Path: a.recordings[0], For: a.length, Settings: a.microphone, Open: capture.Open}
	in, err := a.input(ctx, s.in)
	if err != nil {
		return nil, err
	}
	if a.stream {
		rec.Open = nil
	}
	watch := newAttendant(ctx, a, rec, in, s.err)
	rec.Begun, rec.Noted = watch.part, watch.say
	if err := rec.Start(in); err != nil {
		in.Close()
		return nil, err
	}
	release, awake := capture.KeepAwake()
	defer release()
	watch.begin(awake)
	done := watch.attend(cancel)
	err = rec.Run(ctx)
	cancel()
	<-done
	return rec, err
}

// input opens what is to be recorded.
func (a *recordFlags) input(ctx context.Context, stdin io.Reader) (*capture.Input, error) {
	switch {
	case !a.stream:
		return capture.Open(ctx, a.microphone)
	case isTerminal(stdin):
		return nil, usageError{errors.New("standard input is the keyboard: pipe a recording into it")}
	}
	widen(stdin)
	return capture.Stream(newInterruptible(ctx, stdin))
}

// listDevices prints what can be recorded from.
func listDevices(stdout io.Writer) error {
	devices, err := capture.Devices()
	if err != nil {
		return err
	}
	if len(devices) == 0 {
		fmt.Fprintln(stdout, "no device is listed here; the system's default is recorded without --device")
	}
	for _, d := range devices {
		usual := ""
		if d.Default {
			usual = " (default)"
		}
		fmt.Fprintf(stdout, "%s%s\n    %s\n", wavio.OneLine(d.Name), usual, prose.Printable(d.About))
	}
	return nil
}

// soundOf describes how a recording is stored.
func soundOf(f wavio.Format) string {
	return fmt.Sprintf("%g kHz, %d bit, %s", float64(f.SampleRate)/1000, f.BitsPerSample, prose.Count(f.Channels, "channel", "channels"))
}

// baseOf is the name of a file without its folder, fit for a terminal.
func baseOf(path string) string { return wavio.OneLine(filepath.Base(path)) }
