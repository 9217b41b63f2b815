// Command rundown analyses long recordings of mechanical clock movements: it
// counts the beats from full wind to standstill and says how the rate drifts,
// where it is steady, and what goes wrong. Run "rundown help" for its use.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/pflag"

	"rundown/analysis/prose"
)

// The exit codes.
const (
	exitOK      = 0
	exitFailure = 1 // a file could not be read or written
	exitUsage   = 2 // the command line is wrong
	exitNoBeat  = 3 // no beat was found
)

// subcommand is one of the things that the program does.
type subcommand struct {
	name, about string
	usage       string // the head of its help text
	parse       func(args []string) (command, error)
}

// command is a subcommand whose command line was read; where the error of that
// is pflag.ErrHelp, help was asked for.
type command interface {
	flags() *pflag.FlagSet
	// run does it, and returns the exit code where there is no error.
	run(ctx context.Context, s streams) (code int, err error)
}

// streams are where a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// subcommands lists them in the order of the help text.
var subcommands = []subcommand{
	{"check", "listen for half a minute: is this set-up fit for a night?", checkUsage, parseCheck},
	{"record", "record a run from a microphone, and analyse it", recordUsage, parseRecord},
	{"analyse", "recording(s) in, charts, tables and figures out", analyseUsage, parseAnalyse},
	{"compare", "runs before and after a change in, what became better or worse out", compareUsage, parseCompare},
	{"series", "any number of runs in, one table and chart of them out", seriesUsage, parseSeries},
	{"fusee", "the torque of a spring in, stop-work and a fusee to cut out", fuseeUsage, parseFusee},
	{"calibrate", "a recording of a known rate in, the error of the recorder's clock out", calibrateUsage, parseCalibrate},
	{"synth", "make a recording of a movement that does not exist", synthUsage, parseSynth},
	{"demo", "make a demo recording and analyse it", demoUsage, parseDemo},
}

// run reads the command line of a subcommand and does it.
func (c subcommand) run(ctx context.Context, args []string, s streams) int {
	cmd, err := c.parse(args)
	switch {
	case errors.Is(err, pflag.ErrHelp):
		fmt.Fprint(s.out, c.usage, cmd.flags().FlagUsages())
		return exitOK
	case err != nil:
		return fail(s.err, usageError{err})
	}
	stop, err := profile(cmd.flags())
	if err != nil {
		return fail(s.err, err)
	}
	code, err := cmd.run(ctx, s)
	stop()
	if errors.Is(err, context.Canceled) {
		err = errors.New("interrupted: nothing was written")
	}
	if err != nil {
		return fail(s.err, err)
	}
	return code
}

// usageError is a fault of the command line.
type usageError struct{ error }

// errNoBeat ends a command where a run that it needs has no beat.
var errNoBeat = errors.New("no beat was found in it")

// fail prints an error in one line and returns the exit code that goes with it.
func fail(stderr io.Writer, err error) int {
	fmt.Fprintln(stderr, "rundown:", prose.Printable(err.Error()))
	switch {
	case errors.As(err, new(usageError)):
		return exitUsage
	case errors.Is(err, errNoBeat):
		return exitNoBeat
	}
	return exitFailure
}

// print writes what was found to standard output; kept says where else it is.
func (s streams) print(write func(io.Writer) error, kept string) error {
	if err := write(s.out); err != nil {
		return fmt.Errorf("standard output: %w%s", err, kept)
	}
	return nil
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
	for _, c := range subcommands {
		if c.name == args[0] {
			return c.run(ctx, args[1:], streams{stdin, stdout, stderr})
		}
	}
	fmt.Fprintf(stderr, "rundown: there is no command %q; see: rundown help\n", args[0])
	return exitUsage
}

func help(w io.Writer) {
	fmt.Fprint(w, "rundown finds how a mechanical movement kept time, from a recording of its beat.\n\n")
	for _, c := range subcommands {
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
