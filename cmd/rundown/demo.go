package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"rundown/analysis/prose"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// demoUsage is the help text of the demo command.
const demoUsage = `Usage: rundown demo [DIR]

Makes a recording of a clock that does not exist, 24 minutes from full wind to
standstill, and analyses it. Everything goes into DIR (default: demo).
`

// demoFlags are the settings of the demo command: it has no flags of its own.
type demoFlags struct {
	dir string
	common
}

// parseDemo reads the command line.
func parseDemo(args []string) (command, error) {
	a := &demoFlags{"demo", newCommon("demo")}
	if err := a.set.Parse(args); errors.Is(err, pflag.ErrHelp) {
		return a, err
	} else if err != nil || a.set.NArg() > 1 || a.set.NArg() == 1 && a.set.Arg(0) == "" {
		return a, errors.New("demo takes the name of one folder, or none")
	}
	if a.set.NArg() == 1 {
		a.dir = a.set.Arg(0)
	}
	return a, nil
}

// run makes the demo recording and analyses it as a user would.
func (a *demoFlags) run(ctx context.Context, s streams) (int, error) {
	dir := a.dir
	if err := makeDemo(ctx, dir, s.out); err != nil {
		return exitFailure, err
	}
	args := []string{"analyse", "--train", filepath.Join(dir, "demo.toml"), "--lift-angle", fmt.Sprint(synth.Demo().Movement.LiftAngle), filepath.Join(dir, "demo.wav")}
	fmt.Fprintf(s.out, "\n$ rundown %s\n\n", prose.Printable(strings.Join(args, " ")))
	code := run(ctx, args, s.in, s.out, s.err)
	if code == exitOK {
		fmt.Fprintf(s.out, "\nOpen %s first; the truth to compare with is in %s.\n",
			wavio.OneLine(filepath.Join(dir, "demo.rundown", "report.html")), wavio.OneLine(filepath.Join(dir, "demo.truth.json")))
	}
	return code, nil
}

// makeDemo leaves the recording, its truth and its train file in dir, or what was
// there before.
func makeDemo(ctx context.Context, dir string, stdout io.Writer) error {
	rec := synth.Demo()
	truth := rec.Truth()
	files := append(soundFiles(ctx, "demo.wav", rec, truth), output{"demo.toml", holding([]byte(synth.DemoTrain))})
	err := writeFolder(ctx, dir, files)
	switch {
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("interrupted: %s is as it was", wavio.OneLine(dir))
	case err != nil:
		return errors.New(strings.ReplaceAll(err.Error(), " with --out", "")) // which demo has not
	}
	fmt.Fprintln(stdout, soundLine(filepath.Join(dir, "demo.wav"), truth))
	return nil
}
