// Command rundown analyses long recordings of mechanical clock movements: it
// counts the beats from full wind to standstill and says how the rate drifts,
// where it is steady, and what goes wrong. Run "rundown help" for its use.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

// The exit codes.
const (
	exitOK      = 0
	exitFailure = 1 // a file could not be read or written
	exitUsage   = 2 // the command line is wrong
	exitNoBeat  = 3 // no beat was found
)

// command is a subcommand. Its run returns the exit code.
type command struct {
	name, about string
	run         func(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int
}

// commands lists the subcommands in the order of the help text.
var commands = []command{
	{"check", "listen for half a minute: is this set-up fit for a night?", runCheck},
	{"record", "record a run from a microphone, and analyse it", runRecord},
	{"analyse", "recording(s) in, charts, tables and figures out", runAnalyse},
	{"compare", "runs before and after a change in, what became better or worse out", withoutStdin(runCompare)},
	{"series", "any number of runs in, one table and chart of them out", withoutStdin(runSeries)},
	{"fusee", "the torque of a spring in, stop-work and a fusee to cut out", withoutStdin(runFusee)},
	{"calibrate", "a recording of a known rate in, the error of the recorder's clock out", runCalibrate},
	{"synth", "make a recording of a movement that does not exist", withoutStdin(runSynth)},
	{"demo", "make a demo recording and analyse it", runDemo},
}

// withoutStdin makes a run of one that reads nothing from standard input.
func withoutStdin(f func(context.Context, []string, io.Writer, io.Writer) int) func(context.Context, []string, io.Reader, io.Writer, io.Writer) int {
	return func(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
		return f(ctx, args, stdout, stderr)
	}
}

// memory is how much, in bytes, the program holds before it collects garbage
// more eagerly than usual.
const memory = 96 << 20

func main() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memory)
	}
	ctx, stop := signal.NotifyContext(context.Background(), endings()...)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// endings are the signals that end a recording: of Ctrl-C, of a shutdown, and of a
// terminal that is closed, unless the program was told to outlive that (nohup).
func endings() []os.Signal {
	if signal.Ignored(syscall.SIGHUP) {
		return []os.Signal{os.Interrupt, syscall.SIGTERM}
	}
	return []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}
}

// run is the whole program: ctx ends when the user interrupts it.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	if len(args) == 0 {
		help(stderr)
		return exitUsage
	}
	switch args[0] {
	case "help", "-h", "--help":
		if len(args) == 2 {
			return run(ctx, []string{args[1], "--help"}, stdin, stdout, stderr)
		}
		help(stdout)
		return exitOK
	case "version", "--version":
		fmt.Fprintln(stdout, "rundown", version())
		return exitOK
	}
	for _, c := range commands {
		if c.name == args[0] {
			return c.run(ctx, args[1:], stdin, stdout, stderr)
		}
	}
	fmt.Fprintf(stderr, "rundown: there is no command %q; see: rundown help\n", args[0])
	return exitUsage
}

func help(w io.Writer) {
	fmt.Fprint(w, "rundown finds how a mechanical movement kept time, from a recording of its beat.\n\n")
	for _, c := range commands {
		fmt.Fprintf(w, "  rundown %-9s %s\n", c.name, c.about)
	}
	fmt.Fprintf(w, "  rundown %-9s %s\n", "version", "the version of this program")
	fmt.Fprint(w, "\nrundown COMMAND --help lists the flags of one.\n")
}

// version is the module version that the binary was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(devel)"
	}
	return info.Main.Version
}
