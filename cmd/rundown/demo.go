package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

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
	if err := makeDemo(ctx, dir, recording, train, stdout); err != nil {
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

// makeDemo writes the recording and its train file.
func makeDemo(ctx context.Context, dir, recording, train string, stdout io.Writer) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return cannotWrite(dir, err)
	}
	if err := os.WriteFile(train, []byte(synth.DemoTrain), 0o666); err != nil {
		return cannotWrite(train, err)
	}
	line, err := writeRecording(ctx, recording, synth.Demo())
	if errors.Is(err, context.Canceled) {
		return fmt.Errorf("interrupted: %s is as it was", recording)
	}
	if err == nil {
		fmt.Fprintln(stdout, line)
	}
	return err
}
