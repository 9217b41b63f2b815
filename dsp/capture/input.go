package capture

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"

	"rundown/dsp/wavio"
)

// Settings say what to record, and how. Zero values take what the device has.
type Settings struct {
	Device     string // its name, as Devices lists it; empty for the system's default
	Through    string // Server or the name of a recorder; empty for the first that there is
	SampleRate int    // Hz
	Channels   int
	Bits       int // 16 or 24; 0 is 16
}

// Server is the name of the sound server among the ways to a microphone.
const Server = "server"

// Input is a microphone that is open, or what stands for one: a Source that
// waits for what is still to come. Where the device is lost, Read gives an
// error; a stream that ends gives io.EOF.
type Input struct {
	wavio.Source
	About string // the device and the way to it, for people
	Note  string // what is known of what the sound went through, one sentence; empty for a stream
	Live  bool   // it comes as time passes, and does not wait
	queue *queue // nil for a stream
	close func() error
}

// Lost returns the stretches of zeros that stand for sound which was lost.
func (in *Input) Lost() []Hole {
	if in.queue == nil {
		return nil
	}
	return in.queue.lost()
}

// interrupt ends a Read that waits.
func (in *Input) interrupt() {
	if in.queue != nil {
		in.queue.end(io.EOF)
	}
}

// Close gives the device back.
func (in *Input) Close() error { return in.close() }

// Stream returns the input of a recording that is piped in. It is the pipe that
// waits where the disk is slow.
func Stream(r io.Reader) (*Input, error) {
	src, err := wavio.NewReader(r, "standard input")
	if err != nil {
		return nil, err
	}
	return &Input{Source: src, About: "standard input", close: func() error { return nil }}, nil
}

// Ways lists the ways to a microphone on this system, the first one best.
func Ways() []string {
	names := programNames(runtime.GOOS)
	if runtime.GOOS == "linux" {
		return append([]string{Server}, names...)
	}
	return names
}

// Open opens a microphone. The error says which way failed and why, or which
// recorder to install where there is none.
func Open(ctx context.Context, s Settings) (*Input, error) {
	var failed []string
	for _, way := range Ways() {
		if s.Through != "" && s.Through != way {
			continue
		}
		in, err := open(ctx, way, s)
		if err == nil {
			return in, nil
		}
		if !errors.Is(err, errAbsent) || s.Through != "" {
			failed = append(failed, err.Error())
		}
	}
	switch {
	case len(failed) > 0:
		return nil, errors.New(strings.Join(failed, "; "))
	case s.Through != "":
		return nil, fmt.Errorf("%s is no way to a microphone here: there are %s", s.Through, strings.Join(Ways(), ", "))
	}
	return nil, fmt.Errorf("there is no sound server and no recorder: %s", install(runtime.GOOS))
}

// errAbsent is the error of a way that is not there.
var errAbsent = errors.New("is not here")

func open(ctx context.Context, way string, s Settings) (*Input, error) {
	if way == Server {
		return openServer(s)
	}
	return openProgram(ctx, programs[way], s)
}

// newInput wraps the queue of a device.
func newInput(q *queue) (*Input, error) {
	src, err := wavio.NewReader(q, "the microphone")
	if err != nil {
		return nil, err
	}
	return &Input{Source: src, Live: true, queue: q}, nil
}

// newDeviceQueue returns the queue of a device that gives frames of a format.
func newDeviceQueue(f wavio.Format) (*queue, error) {
	head, err := wavio.StreamHeader(f)
	return newQueue(head, f.Channels*f.BitsPerSample/8), err
}

// Rates are the sample rates that are recorded, Hz.
var Rates = []int{44100, 48000, 96000}

// format settles what is left open of the settings by what the device has.
func (s Settings) format(rate, channels int) wavio.Format {
	f := wavio.Format{SampleRate: s.SampleRate, Channels: s.Channels, BitsPerSample: s.Bits, Frames: -1}
	if f.SampleRate == 0 {
		f.SampleRate = 48000
		if slices.Contains(Rates, rate) {
			f.SampleRate = rate
		}
	}
	if f.Channels == 0 {
		f.Channels = min(max(channels, 1), 2)
	}
	if f.BitsPerSample == 0 {
		f.BitsPerSample = 16
	}
	return f
}
