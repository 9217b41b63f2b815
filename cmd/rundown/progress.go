package main

import (
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"rundown/dsp/wavio"
)

// progress shows how far the reading of a recording has come. The zero value
// shows nothing.
type progress struct{ bar *progressbar.ProgressBar }

// newProgress shows a bar on stderr if that is a terminal. A recording of
// unknown length has a time that runs instead of a bar.
func newProgress(stderr io.Writer, f wavio.Format) progress {
	if !isTerminal(stderr) {
		return progress{}
	}
	return progress{progressbar.NewOptions64(f.Frames,
		progressbar.OptionSetWriter(stderr),
		progressbar.OptionSetDescription("listening"),
		progressbar.OptionSetWidth(40),
		progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionSetElapsedTime(true),
		progressbar.OptionClearOnFinish(),
	)}
}

// update tells that so many frames were read.
func (p progress) update(frames int64) {
	if p.bar != nil {
		_ = p.bar.Set64(frames) // a bar that cannot be drawn is no reason to stop
	}
}

// done wipes the bar.
func (p progress) done() {
	if p.bar != nil {
		_ = p.bar.Exit()
		_ = p.bar.Clear()
	}
}

// isTerminal reports whether a stream is shown to, or typed by, a person.
func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
