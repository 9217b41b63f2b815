package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"rundown/analysis"
	"rundown/analysis/export"
	"rundown/analysis/fitness"
	"rundown/dsp/capture"
	"rundown/dsp/wavio"
	"rundown/plotting/chart"
)

// checkFlags are the settings of the check command as they were given.
type checkFlags struct {
	analyseFlags
	microphone capture.Settings
	length     time.Duration
	picture    string
}

// exitUnfit is the exit code of a set-up that is not fit for a night.
const exitUnfit = exitNoBeat

const checkUsage = `Usage: rundown check [flags] [RECORDING]

Listens for half a minute, to the microphone or a recording, and says whether the
set-up is fit for a night, and what a night would give. Read the cautions in the
README before you fix a microphone to a movement under power.

`

// parseCheck reads the command line.
func parseCheck(args []string) (command, error) {
	a := new(checkFlags)
	a.common = newCommon("check")
	f := a.set
	f.DurationVar(&a.length, "for", 30*time.Second, "listen for `DUR`, at most 2m")
	bindMicrophone(f, &a.microphone)
	f.StringVar(&a.picture, "picture", "", "`FILE` for the picture of a beat's sound (default: check.png, or beside the recording NAME.check.png)")
	f.Float64Var(&a.bph, "bph", 0, "nominal beats per hour, `N` (default: a customary count near the measured one, or the measured one)")
	f.Float64Var(&a.liftAngle, "lift-angle", 0, "lift angle `DEG` of the escapement, for amplitude in degrees")
	f.Float64Var(&a.liftTime, "lift-time", 0, "about the lift time, `MS`")
	f.IntVar(&a.channel, "channel", 0, "channel `N` that carries the movement, from 1 (default: the clearest)")
	a.bindOutput("verdict")
	a.bindQuiet()
	if err := f.Parse(args); err != nil {
		return a, err
	}
	a.recordings = f.Args()
	return a, a.checkCheck()
}

func (a *checkFlags) checkCheck() error {
	switch {
	case len(a.recordings) > 1:
		return errors.New("check takes one recording, or none to listen to the microphone")
	case a.length < 5*time.Second || a.length > fitness.Longest*time.Second:
		return fmt.Errorf("--for %v: must be from 5s to 2m", a.length)
	}
	return cmp.Or(checkMicrophone(a.set, a.microphone), a.checkValues())
}

func (a *checkFlags) run(ctx context.Context, s streams) (int, error) {
	r, err := a.assess(ctx, s)
	if err == nil {
		err = a.show(r, s)
	}
	if err == nil && !r.Fit() {
		return exitUnfit, nil
	}
	return exitOK, err
}

// assess listens.
func (a *checkFlags) assess(ctx context.Context, s streams) (*fitness.Report, error) {
	opt, err := a.options()
	if err != nil {
		return nil, err
	}
	src, done, err := a.source(ctx, s.in)
	if err != nil {
		return nil, err
	}
	defer done()
	if n := src.Format().Channels; a.channel > n {
		return nil, usageError{fmt.Errorf("--channel %d: there is only %d", a.channel, n)}
	}
	if len(a.recordings) == 0 && !a.quiet && !a.json {
		fmt.Fprintf(s.err, "Listening for %v.\n", a.length)
	}
	r, err := analysis.Promptly(ctx, func() (*fitness.Report, error) {
		return fitness.Assess(ctx, src, a.length.Seconds(), opt)
	})
	if errors.Is(err, context.Canceled) {
		err = errors.New("interrupted: it was not listened to its end")
	}
	return r, err
}

// source opens what is to be listened to.
func (a *checkFlags) source(ctx context.Context, stdin io.Reader) (src wavio.Source, done func() error, err error) {
	if len(a.recordings) == 1 {
		parts, err := wavio.OpenParts(a.recordings, stdin)
		if err != nil {
			return nil, nil, err
		}
		return parts, parts.Close, nil
	}
	in, err := capture.Open(ctx, a.microphone)
	if err != nil {
		return nil, nil, err
	}
	return in, in.Close, nil
}

// show prints the verdict and draws the picture.
func (a *checkFlags) show(r *fitness.Report, s streams) error {
	title, picture := "the microphone", "check.png"
	if len(a.recordings) == 1 {
		title = "standard input"
		if name := a.recordings[0]; name != stdinName {
			title = baseOf(name)
			picture = beside(name, ".check.png")
		}
	}
	if a.picture != "" {
		picture = a.picture
	}
	if len(r.Sounds) == 0 {
		picture = ""
	}
	if picture != "" {
		if err := draw(picture, title, r); err != nil {
			return err
		}
	}
	return s.print(func(w io.Writer) error {
		if a.json {
			return export.CheckJSON(w, r)
		}
		return export.CheckText(w, r, title, wavio.OneLine(picture))
	}, "")
}

// draw draws the sound of a beat into a file.
func draw(path, title string, r *fitness.Report) error {
	files := new(fileSet)
	defer files.abort()
	if err := files.write(path, beatPicture(title, r).WritePNG); err != nil {
		return err
	}
	return files.commit()
}

// beatPicture shows the sound of a beat over what was heard.
func beatPicture(title string, r *fitness.Report) *chart.Figure {
	show := []chart.Portrait{{Title: "this set-up", Portrait: r.Sounds[len(r.Sounds)/2]}}
	h := chart.Heading{Name: title, Nominal: float64(r.PerHour)}
	if !r.LiftTold {
		return chart.Beat(h, show, "the clearest sound of the beat", r.Doubt)
	}
	return chart.Beat(h, show, "the middle of the lift", "")
}
