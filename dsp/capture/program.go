package capture

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"rundown/dsp/wavio"
)

// program is a recorder that may be installed. It writes frames without a
// header to its standard output.
type program struct {
	name string
	// args are those that record from a device, or from the default one where
	// its name is empty.
	args func(device string, f wavio.Format) []string
	// list are the arguments that list the devices, and found what names one in
	// the answer; nil where the recorder can't.
	list  []string
	found *regexp.Regexp
}

var programs = map[string]*program{
	"arecord": {
		name: "arecord",
		args: func(device string, f wavio.Format) []string {
			format := "S16_LE"
			if f.BitsPerSample == 24 {
				format = "S24_3LE"
			}
			args := []string{"-q", "-t", "raw", "-f", format, "-r", strconv.Itoa(f.SampleRate), "-c", strconv.Itoa(f.Channels)}
			if device != "" {
				args = append(args, "-D", device)
			}
			return args
		},
		list:  []string{"-L"},
		found: regexp.MustCompile(`(?m)^(\S+)$`),
	},
	"sox": {
		name: "sox",
		args: func(device string, f wavio.Format) []string {
			in := []string{"-d"}
			if device != "" {
				in = []string{"-t", soxDriver(runtime.GOOS), device}
			}
			out := []string{"-t", "raw", "-e", "signed", "-L", "-b", strconv.Itoa(f.BitsPerSample), "-r", strconv.Itoa(f.SampleRate), "-c", strconv.Itoa(f.Channels), "-"}
			return append(append([]string{"-q", "-D"}, in...), out...)
		},
	},
	"ffmpeg": {
		name: "ffmpeg",
		args: func(device string, f wavio.Format) []string {
			kind, name := ffmpegInput(runtime.GOOS, device)
			return []string{"-hide_banner", "-loglevel", "error", "-nostdin", "-f", kind, "-i", name,
				"-ar", strconv.Itoa(f.SampleRate), "-ac", strconv.Itoa(f.Channels), "-f", fmt.Sprintf("s%dle", f.BitsPerSample), "-"}
		},
		list:  ffmpegList(runtime.GOOS),
		found: ffmpegDevice[runtime.GOOS],
	},
}

// programNames are the recorders of a system, the best first. ffmpeg needs the
// name of a device on Windows, where sox knows a default.
func programNames(system string) []string {
	switch system {
	case "linux":
		return []string{"arecord", "ffmpeg", "sox"}
	case "windows":
		return []string{"sox", "ffmpeg"}
	}
	return []string{"ffmpeg", "sox"}
}

// install says which recorder to install on a system.
func install(system string) string {
	switch system {
	case "linux":
		return "install one, with: sudo apt-get install alsa-utils"
	case "darwin":
		return "install one, with: brew install ffmpeg"
	case "windows":
		return "install one, with: winget install ffmpeg, and name the microphone with --device"
	}
	return "install ffmpeg or sox"
}

func soxDriver(system string) string {
	return map[string]string{"linux": "alsa", "darwin": "coreaudio", "windows": "waveaudio"}[system]
}

// ffmpegInput returns the kind of device and its name for ffmpeg.
func ffmpegInput(system, device string) (kind, name string) {
	switch system {
	case "darwin":
		if device == "" {
			device = "default"
		}
		return "avfoundation", ":" + device
	case "windows":
		return "dshow", "audio=" + device
	}
	if device == "" {
		device = "default"
	}
	return "alsa", device
}

func ffmpegList(system string) []string {
	switch system {
	case "darwin":
		return []string{"-hide_banner", "-f", "avfoundation", "-list_devices", "true", "-i", ""}
	case "windows":
		return []string{"-hide_banner", "-f", "dshow", "-list_devices", "true", "-i", "dummy"}
	}
	return nil
}

// ffmpegDevice finds the names of devices in what ffmpeg lists.
var ffmpegDevice = map[string]*regexp.Regexp{
	"darwin":  regexp.MustCompile(`(?m)^\[AVFoundation[^\]]*\] \[\d+\] (.+)$`),
	"windows": regexp.MustCompile(`(?m)"([^"]+)" \(audio\)`),
}

// leaving is how long a recorder has to end by itself.
const leaving = 2 * time.Second

// openProgram starts a recorder and waits for its first sound, so that one which
// cannot record is found out at once.
func openProgram(ctx context.Context, p *program, set Settings) (*Input, error) {
	path, err := exec.LookPath(p.name)
	if err != nil {
		return nil, fmt.Errorf("%s %w: it is not installed", p.name, errAbsent)
	}
	if p.name == "ffmpeg" && runtime.GOOS == "windows" && set.Device == "" {
		return nil, errors.New("ffmpeg needs the name of the microphone here: give --device, and see --devices")
	}
	f := set.format(48000, 1)
	q, err := newDeviceQueue(f)
	if err != nil {
		return nil, err
	}
	q.silence = 2 * silence // it may have to ask for leave first
	run := &running{cmd: exec.Command(path, p.args(set.Device, f)...), queue: q, done: make(chan struct{})}
	if err := run.start(); err != nil {
		return nil, fmt.Errorf("%s: can't be started: %w", p.name, err)
	}
	stop := context.AfterFunc(ctx, run.stop)
	in, err := newInput(q)
	if err == nil {
		err = q.first()
	}
	if err != nil {
		run.stop()
		return nil, fmt.Errorf("%s gives no sound: %w", p.name, err)
	}
	stop()
	in.About = p.name
	if set.Device != "" {
		in.About = set.Device + ", by " + p.name
	}
	in.Note = "Whether " + p.name + " is given the microphone as it is, without echo cancelling and noise suppression, cannot be told"
	in.close = func() error { run.stop(); return nil }
	return in, nil
}

// first waits for sound after the head.
func (q *queue) first() error {
	late := time.AfterFunc(q.silence, func() { q.end(errSilent) })
	defer late.Stop()
	q.mu.Lock()
	defer q.mu.Unlock()
	for q.put == 0 && q.err == nil {
		q.more.Wait()
	}
	if q.put > 0 {
		return nil
	}
	return q.err
}

// running is a recorder at work.
type running struct {
	cmd    *exec.Cmd
	queue  *queue
	errors bytes.Buffer // what it said
	done   chan struct{}
}

func (r *running) start() error {
	r.cmd.Stderr = &r.errors
	r.cmd.Stdout = whole{r.queue, new([]byte)}
	r.cmd.WaitDelay = leaving // a child of it may keep the pipe open
	apart(r.cmd)
	if err := r.cmd.Start(); err != nil {
		return err
	}
	go func() {
		err := r.cmd.Wait()
		r.queue.end(reason(err, r.errors.String()))
		close(r.done)
	}()
	return nil
}

// reason says why a recorder ended, by the last line that it said.
func reason(err error, said string) error {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	switch last := strings.TrimSpace(lines[len(lines)-1]); {
	case last != "":
		return errors.New(last)
	case err != nil:
		return fmt.Errorf("it ended: %w", err)
	}
	return errors.New("it ended by itself")
}

// stop asks the recorder to end, and ends it where it doesn't.
func (r *running) stop() {
	r.queue.end(os.ErrClosed)
	if runtime.GOOS == "windows" || r.cmd.Process.Signal(os.Interrupt) != nil {
		r.cmd.Process.Kill()
	}
	select {
	case <-r.done:
	case <-time.After(leaving):
		r.cmd.Process.Kill()
		<-r.done
	}
}

// whole hands whole frames to a queue: a pipe breaks them anywhere.
type whole struct {
	queue *queue
	rest  *[]byte
}

// Write implements io.Writer.
func (w whole) Write(p []byte) (int, error) {
	*w.rest = append(*w.rest, p...)
	n := len(*w.rest) / w.queue.frame * w.queue.frame
	if _, err := w.queue.Write((*w.rest)[:n]); err != nil {
		return 0, err
	}
	*w.rest = append((*w.rest)[:0], (*w.rest)[n:]...)
	return len(p), nil
}

// devices lists what a recorder can record from; nil where it can't say.
func (p *program) devices() []Device {
	path, err := exec.LookPath(p.name)
	if err != nil || p.list == nil {
		return nil
	}
	said, _ := exec.Command(path, p.list...).CombinedOutput() // ffmpeg fails after its list
	var out []Device
	for _, m := range p.found.FindAllSubmatch(said, -1) {
		out = append(out, Device{Name: strings.TrimSpace(string(m[1])), About: "by " + p.name})
	}
	return out
}

// Devices lists what can be recorded from, by the sound server where there is
// one, else by the recorders. The error says what to install where there is
// nothing.
func Devices() ([]Device, error) {
	if runtime.GOOS == "linux" {
		if out, err := serverDevices(); err == nil || !errors.Is(err, errAbsent) {
			return out, err
		}
	}
	var out []Device
	for _, name := range programNames(runtime.GOOS) {
		if out = programs[name].devices(); len(out) > 0 {
			return out, nil
		}
		if _, err := exec.LookPath(name); err == nil {
			return nil, nil
		}
	}
	return nil, fmt.Errorf("there is no sound server and no recorder: %s", install(runtime.GOOS))
}
