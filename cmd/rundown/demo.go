package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"rundown/analysis/export"
	"rundown/analysis/prose"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// demoUsage is the help text of the demo command.
const demoUsage = `Usage: rundown demo [DIR]

Makes a recording of a clock that does not exist, 24 minutes from full wind to
standstill, and analyses it. Everything goes into DIR (default: demo).
`

// runDemo makes the demo recording and analyses it as a user would.
func runDemo(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	dir := "demo"
	switch {
	case len(args) == 1 && (args[0] == "--help" || args[0] == "-h"):
		fmt.Fprint(stdout, demoUsage)
		return exitOK
	case len(args) > 1 || len(args) == 1 && (args[0] == "" || args[0][0] == '-'):
		return fail(stderr, usageError{errors.New("demo takes the name of one folder, or none")})
	case len(args) == 1:
		dir = args[0]
	}
	recording, train := filepath.Join(dir, "demo.wav"), filepath.Join(dir, "demo.toml")
	if err := makeDemo(ctx, dir, stdout); err != nil {
		return fail(stderr, err)
	}
	flags := []string{"--train", train, "--lift-angle", fmt.Sprint(synth.Demo().Movement.LiftAngle), recording}
	fmt.Fprintf(stdout, "\n$ rundown analyse %s\n\n", prose.Printable(strings.Join(flags, " ")))
	code := runAnalyse(ctx, flags, stdin, stdout, stderr)
	if code == exitOK {
		fmt.Fprintf(stdout, "\nOpen %s first; the truth to compare with is in %s.\n",
			wavio.OneLine(filepath.Join(dir, "demo.rundown", "report.html")), wavio.OneLine(filepath.Join(dir, "demo.truth.json")))
	}
	return code
}

// makeDemo leaves the recording, its truth and its train file in dir, or what was
// there before.
func makeDemo(ctx context.Context, dir string, stdout io.Writer) error {
	rec := synth.Demo()
	truth := rec.Truth()
	files := append(soundFiles(ctx, "demo.wav", rec, truth), output{"demo.toml", holding([]byte(synth.DemoTrain))})
	err := writeDemo(ctx, dir, files)
	switch {
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("interrupted: %s is as it was", wavio.OneLine(dir))
	case err != nil:
		return errors.New(strings.ReplaceAll(err.Error(), " with --out", "")) // which demo has not
	}
	fmt.Fprintln(stdout, soundLine(filepath.Join(dir, "demo.wav"), truth))
	return nil
}

func writeDemo(ctx context.Context, dir string, files []output) error {
	var names []string
	for _, file := range files {
		names = append(names, file.name)
	}
	folder, err := export.NewFolder(dir, names...)
	if err != nil {
		return err
	}
	defer folder.Abort()
	if err := writeAll(ctx, folder, files); err != nil {
		return err
	}
	return folder.Commit()
}
