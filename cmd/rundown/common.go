package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/pprof"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"rundown/analysis/export"
	"rundown/dsp/wavio"
)

// common is what the flags of all commands have.
type common struct {
	set         *pflag.FlagSet
	json, quiet bool
}

// newCommon begins the flags of a command. Its errors and its help are printed
// by the program, not by the library.
func newCommon(name string) common {
	f := pflag.NewFlagSet(name, pflag.ContinueOnError)
	f.SetOutput(io.Discard)
	f.Usage = func() {}
	f.SortFlags = false
	f.String("cpuprofile", "", "write where the time goes to `FILE`, for go tool pprof")
	f.Lookup("cpuprofile").Hidden = true
	return common{set: f}
}

func (c *common) flags() *pflag.FlagSet { return c.set }

// bindOutput defines the flag that prints what was found for a program.
func (c *common) bindOutput(what string) {
	c.set.BoolVar(&c.json, "json", false, "print the "+what+" as JSON, and nothing else")
}

func (c *common) bindQuiet() { c.set.BoolVar(&c.quiet, "quiet", false, "show no progress") }

// bar shows how far the reading of a recording has come, if that is wanted.
func (c *common) bar(s streams, f wavio.Format) progress {
	if c.quiet {
		return progress{}
	}
	return newProgress(s.err, f)
}

// positive tells what is wrong with a number that was given: it must be above 0
// and at most limit.
func (c *common) positive(flag string, x, limit float64) error {
	if f := c.set.Lookup(flag); c.set.Changed(flag) && !(x > 0 && x <= limit) {
		return fmt.Errorf("--%s %s: must be above 0 and at most %g", flag, f.Value, limit)
	}
	return nil
}

// within tells what is wrong with a whole number that was given.
func (c *common) within(flag string, n, low, high int) error {
	if c.set.Changed(flag) && (n < low || n > high) {
		return fmt.Errorf("--%s %d: must be from %d to %d", flag, n, low, high)
	}
	return nil
}

// named tells what is wrong with a folder for results.
func (c *common) named(out string) error {
	if c.set.Changed("out") && out == "" {
		return fmt.Errorf("--out: the folder has no name")
	}
	return nil
}

// beside is a name beside a file or folder: its own with another ending.
func beside(path, ending string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + ending
}

// open opens recordings, with a context for the work on them: standard input is
// read until ctx ends.
func open(ctx context.Context, names []string, stdin io.Reader) (src *wavio.Parts, work context.Context, done func(), err error) {
	stop := func() {}
	if slices.Contains(names, stdinName) {
		if stdin, ctx, stop, err = untilInterrupted(ctx, stdin); err != nil {
			return nil, nil, nil, err
		}
	}
	if src, err = wavio.OpenParts(names, stdin); err != nil {
		stop()
		return nil, nil, nil, err
	}
	return src, ctx, func() { src.Close(); stop() }, nil
}

// output is a file of a results folder.
type output struct {
	name string
	fill func(io.Writer) error
}

// holding fills a file with bytes.
func holding(text []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(text); return err }
}

// writeFolder leaves files in a folder, complete, or what was there before. further
// are names that the command gives to files of another run.
func writeFolder(ctx context.Context, dir string, files []output, further ...string) error {
	names := further
	for _, file := range files {
		names = append(names, file.name)
	}
	folder, err := export.NewFolder(dir, names...)
	if err != nil {
		return err
	}
	defer folder.Abort()
	for _, file := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := folder.Write(file.name, file.fill); err != nil {
			return err
		}
	}
	return folder.Commit()
}

// foreign tells that a folder for results holds those of another command, by the
// names of files that it leaves.
func foreign(dir string, names ...string) error {
	for _, name := range names {
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return usageError{fmt.Errorf("%s holds other results; choose another folder with --out", wavio.OneLine(dir))}
		}
	}
	return nil
}

// profile begins to write where the time goes, where that is asked for, until stop
// is called.
func profile(f *pflag.FlagSet) (stop func(), err error) {
	name, _ := f.GetString("cpuprofile")
	if name == "" {
		return func() {}, nil
	}
	file, err := os.Create(name)
	if err != nil {
		return nil, err
	}
	if err := pprof.StartCPUProfile(file); err != nil {
		file.Close()
		return nil, err
	}
	return func() { pprof.StopCPUProfile(); file.Close() }, nil
}
