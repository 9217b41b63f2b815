package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"rundown/dsp/wavio"
)

// Recording takes sound from an Input to files: one, and where the device was
// lost and came back another for each time.
type Recording struct {
	Path string        // of the first part; later ones are numbered from 2
	For  time.Duration // how long to record; 0 is until the context ends
	// Open opens the microphone again after it was lost, with the settings given;
	// nil for a stream, which ends but once.
	Open     func(ctx context.Context, s Settings) (*Input, error)
	Settings Settings
	// Begun, if not nil, is told of each part as it begins.
	Begun func(part *wavio.Growing)
	// Noted, if not nil, is told at once what went wrong, one sentence, which
	// stands in the log too.
	Noted func(text string)

	in     *Input
	part   *wavio.Growing
	parts  []string
	before int64 // frames of earlier parts
	frames atomic.Int64
	meter  *meter
	watch  *watch
	holes  int
	notes  []string
	log    *os.File // nil until there is something to log
	block  [][]float32
	synced time.Time
}

const (
	blockSeconds = 0.1
	// flushed is how often the sound is brought to the disk: so much is lost at
	// the most where the power fails.
	flushed = 2 * time.Second
	// patience is how long a lost device is waited for.
	patience = time.Minute
	again    = time.Second
)

// ErrLost is the error of a device that was lost for good.
var ErrLost = errors.New("the device was lost")

// Start begins to record from an input, and writes the first header.
func (r *Recording) Start(in *Input) error {
	r.in = in
	f := in.Format()
	r.Settings.SampleRate, r.Settings.Channels, r.Settings.Bits = f.SampleRate, f.Channels, f.BitsPerSample
	r.meter = newMeter(f.Channels)
	r.block = make([][]float32, f.Channels)
	for c := range r.block {
		r.block[c] = make([]float32, max(1, int(blockSeconds*float64(f.SampleRate))))
	}
	return r.begin()
}

// Parts returns the names of the files so far.
func (r *Recording) Parts() []string { return r.parts }

// Notes returns what went wrong, whole sentences.
func (r *Recording) Notes() []string { return r.notes }

// Frames returns how many frames were recorded so far, in all parts. It may be
// asked from any goroutine.
func (r *Recording) Frames() int64 { return r.frames.Load() }

// Level returns how loud the recording was since it was last asked, from any
// goroutine.
func (r *Recording) Level() Level { return r.meter.take() }

// BytesPerSecond is how fast the files grow.
func (r *Recording) BytesPerSecond() float64 {
	f := r.part.Format()
	return float64(f.SampleRate * f.Channels * f.BitsPerSample / 8)
}

// begin begins a part.
func (r *Recording) begin() error {
	path := r.Path
	if n := len(r.parts); n > 0 {
		ext := filepath.Ext(path)
		path = strings.TrimSuffix(path, ext) + "-" + strconv.Itoa(n+1) + ext
	}
	part, err := wavio.Create(path, stored(r.in.Format()))
	if err != nil {
		return cannot(path, err)
	}
	r.part, r.parts = part, append(r.parts, path)
	r.watch, r.holes = newWatch(time.Now(), float64(part.Format().SampleRate)), 0
	r.logf("%s begins, from %s.", filepath.Base(path), r.in.About)
	if r.Begun != nil {
		r.Begun(part)
	}
	return nil
}

// stored is the format in which sound is stored without loss.
func stored(f wavio.Format) wavio.Format {
	switch {
	case f.Float || f.BitsPerSample > 24:
		f.BitsPerSample, f.Float = 32, true
	case f.BitsPerSample < 16:
		f.BitsPerSample = 16
	}
	return f
}

// Run records until the time is over, the context ends, or the stream does. Its
// error is that of the disk, or of a device that did not come back; what was
// recorded by then is whole.
func (r *Recording) Run(ctx context.Context) error {
	defer func() {
		r.logf("It ends.")
		r.log.Close()
	}()
	for {
		lost, err := r.record(ctx)
		if err = errors.Join(err, r.close()); err != nil || lost == nil {
			return err
		}
		if r.in, err = r.reopen(ctx, lost); r.in == nil {
			return err
		}
		if err := r.begin(); err != nil {
			return err
		}
	}
}

// record records a part. lost says why the device was lost, and is nil where the
// recording is over.
func (r *Recording) record(ctx context.Context) (lost, err error) {
	stop := context.AfterFunc(ctx, func() { r.in.interrupt() })
	defer stop()
	dst := make([][]float32, len(r.block))
	for {
		left := r.left()
		if left == 0 {
			return nil, nil
		}
		for c := range dst {
			dst[c] = r.block[c][:min(int64(len(r.block[c])), left)]
		}
		n, err := r.in.Read(dst)
		switch {
		case err == io.EOF, err != nil && ended(ctx):
			return nil, nil
		case err != nil && r.Open == nil:
			return nil, err
		case err != nil:
			return err, nil
		}
		for c := range dst {
			dst[c] = dst[c][:n]
		}
		if err := r.write(dst); err != nil {
			return nil, err
		}
	}
}

// ended reports whether a context has ended, or does at once: the signal that
// ends it may end a recorder too, which is then seen first.
func ended(ctx context.Context) bool {
	select {
	case <-ctx.Done():
		return true
	case <-time.After(50 * time.Millisecond):
		return false
	}
}

// left is how many frames are still to be recorded.
func (r *Recording) left() int64 {
	if r.For == 0 {
		return math.MaxInt64
	}
	return int64(r.For.Seconds()*float64(r.Settings.SampleRate)+0.5) - r.Frames()
}

// write writes a block, and brings the file to the disk now and then.
func (r *Recording) write(block [][]float32) error {
	if err := r.part.Write(block); err != nil {
		return cannot(r.parts[len(r.parts)-1], err)
	}
	r.frames.Store(r.before + r.part.Frames())
	r.meter.add(block)
	now := time.Now()
	if now.Sub(r.synced) >= flushed {
		r.synced = now
		if err := r.part.Sync(); err != nil {
			return cannot(r.parts[len(r.parts)-1], err)
		}
	}
	r.account(now)
	return nil
}

// account notes what was lost.
func (r *Recording) account(now time.Time) {
	if !r.in.Live {
		return
	}
	if text := r.watch.see(now, r.in.queue.came()); text != "" {
		r.note("%s", text)
	}
	holes := r.in.Lost()
	rate := float64(r.Settings.SampleRate)
	for ; r.holes < len(holes) && holes[r.holes].Start+holes[r.holes].Frames <= r.part.Frames(); r.holes++ {
		h := holes[r.holes]
		r.note("%d samples (%.2f s) were lost at %s, because the disk was too slow; they are written as zeros",
			h.Frames, float64(h.Frames)/rate, clock(float64(r.before+h.Start)/rate))
	}
}

// close ends a part and gives the device back.
func (r *Recording) close() error {
	r.in.Close()
	r.before = r.Frames()
	if err := r.part.Close(); err != nil {
		return cannot(r.parts[len(r.parts)-1], err)
	}
	return nil
}

// reopen waits for a lost device. The input is nil where it does not come back,
// or the context ends first.
func (r *Recording) reopen(ctx context.Context, lost error) (*Input, error) {
	at := time.Now()
	r.note("the device was lost: %v; waiting for it for a minute", cause(lost))
	for time.Since(at) < patience {
		select {
		case <-ctx.Done():
			return nil, nil
		case <-time.After(again):
		}
		if in, err := r.Open(ctx, r.Settings); err == nil {
			r.note("the device is back after %.1f s, of which there is no sound: what follows is another part", time.Since(at).Seconds())
			return in, nil
		}
	}
	return nil, fmt.Errorf("%w at %s and did not come back: %w", ErrLost, clock(float64(r.before)/float64(r.Settings.SampleRate)), cause(lost))
}

// cause returns what a device was lost by, without the words that suit a file.
func cause(err error) error {
	for next := errors.Unwrap(err); next != nil; next = errors.Unwrap(err) {
		err = next
	}
	return err
}

// note tells and logs what went wrong.
func (r *Recording) note(format string, args ...any) {
	text := fmt.Sprintf("At %s: ", clock(float64(r.Frames())/float64(r.Settings.SampleRate))) + fmt.Sprintf(format, args...) + "."
	r.notes = append(r.notes, text)
	r.logf("%s", text)
	if r.Noted != nil {
		r.Noted(text)
	}
}

// logf adds a line to the log beside the recording. A log that can't be written
// is no reason to stop.
func (r *Recording) logf(format string, args ...any) {
	if r.log == nil {
		r.log, _ = os.OpenFile(r.Path+".log", os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
	}
	fmt.Fprintf(r.log, time.Now().Format(time.RFC3339)+" "+format+"\n", args...)
}

// clock writes a time since the start of the recording.
func clock(seconds float64) string {
	s := int64(seconds)
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

// cannot names a file that can't be written, and says what to do.
func cannot(path string, err error) error {
	if errors.Is(err, wavio.ErrExists) {
		return fmt.Errorf("%s: %w", wavio.OneLine(path), wavio.ErrExists)
	}
	var pe *os.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("%s: %w: what was recorded before is there; free some space or choose another place", wavio.OneLine(path), err)
}
