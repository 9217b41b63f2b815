package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"rundown/dsp/wavio"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"rundown": main})
}

// TestScripts runs the user stories in testdata/script.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":     exits,
			"cut":       cut,
			"split":     split,
			"encode":    encode,
			"interrupt": signalled(os.Interrupt),
			"hangup":    signalled(syscall.SIGHUP, syscall.SIGHUP, syscall.SIGTERM),
			"terminate": signalled(syscall.SIGTERM),
			"sigkill":   signalled(os.Kill),
		},
		Condition: func(name string) (bool, error) {
			if name == "superuser" {
				return os.Geteuid() == 0, nil
			}
			return false, fmt.Errorf("unknown condition %q", name)
		},
	})
}

// exits CODE COMMAND ARGS: runs a command that must end with that code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND ARGS")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	if exit := new(exec.ExitError); errors.As(err, &exit) {
		code = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if args[0] != strconv.Itoa(code) {
		ts.Fatalf("exit code %d, want %s", code, args[0])
	}
}

// cut FROM N TO: writes the first N bytes of a file to another.
func cut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: cut FROM N TO")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	data := []byte(ts.ReadFile(args[0]))
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), data[:min(n, len(data))], 0o666))
}

// split FILE N: writes the frames of a recording to N parts, FILE.1 and so on,
// the first part being the shortest.
func split(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: split FILE N")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	src, err := wavio.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer src.Close()
	all := src.Format().Frames
	for i := 1; i <= n; i++ {
		part := src.Format()
		part.Frames = all*int64(i*i)/int64(n*n) - all*int64((i-1)*(i-1))/int64(n*n)
		write(ts, args[0]+"."+strconv.Itoa(i), part, src)
	}
}

// encode FILE BITS TO: writes a recording with samples of another width; 32
// stands for floating point.
func encode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: encode FILE BITS TO")
	}
	src, err := wavio.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer src.Close()
	f := src.Format()
	f.BitsPerSample, err = strconv.Atoi(args[1])
	ts.Check(err)
	f.Float = f.BitsPerSample == 32
	write(ts, args[2], f, src)
}

// write writes the next f.Frames frames of src.
func write(ts *testscript.TestScript, name string, f wavio.Format, src wavio.Source) {
	file, err := os.Create(ts.MkAbs(name))
	ts.Check(err)
	w, err := wavio.NewWriter(file, f)
	ts.Check(err)
	dst := make([][]float32, f.Channels)
	for c := range dst {
		dst[c] = make([]float32, f.Frames)
	}
	_, err = src.Read(dst)
	ts.Check(err)
	ts.Check(w.Write(dst))
	ts.Check(w.Close())
	ts.Check(file.Close())
}

// signalled makes a command of scripts, NAME FILE COMMAND ARGS: it pipes a file
// into a command, keeps the pipe open as a recorder would, and sends it signals
// once it has read everything. The command must do well, or with a ! fail.
func signalled(signals ...os.Signal) func(ts *testscript.TestScript, neg bool, args []string) {
	return func(ts *testscript.TestScript, neg bool, args []string) {
		if len(args) < 2 {
			ts.Fatalf("usage: NAME FILE COMMAND ARGS")
		}
		if err := pipeAndSignal(ts, signals, args); neg != (err != nil) {
			ts.Fatalf("%v: %v", args[1:], err)
		}
	}
}

func pipeAndSignal(ts *testscript.TestScript, signals []os.Signal, args []string) error {
	file, err := os.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer file.Close()
	path, err := exec.LookPath(filepath.Join(filepath.SplitList(ts.Getenv("PATH"))[0], args[1]))
	ts.Check(err)
	cmd := exec.Command(path, args[2:]...)
	cmd.Dir = ts.MkAbs(".")
	cmd.Stdout, cmd.Stderr = ts.Stdout(), ts.Stderr()
	pipe, err := cmd.StdinPipe()
	ts.Check(err)
	ts.Check(cmd.Start())
	_, err = io.Copy(pipe, file)
	ts.Check(err)
	time.Sleep(300 * time.Millisecond) // for what is still in the pipe
	for _, sig := range signals {
		ts.Check(cmd.Process.Signal(sig))
		time.Sleep(5 * time.Millisecond) // or two might count as one
	}
	defer pipe.Close()
	return cmd.Wait()
}
