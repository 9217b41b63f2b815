package capture

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// soundServer starts a sound server without hardware, whose default device is
// what is played into its only output. It returns what ends it, and what starts it
// anew.
func soundServer(t *testing.T) (kill func(), start func()) {
	t.Helper()
	if testing.Short() {
		t.Skip("skipped: it takes the time that the sound takes")
	}
	for _, name := range []string{"pulseaudio", "paplay"} {
		if _, err := exec.LookPath(name); err != nil {
			t.Skipf("skipped: %s is not installed", name)
		}
	}
	dir := t.TempDir()
	socket := filepath.Join(dir, "native")
	for name, value := range map[string]string{
		"PULSE_SERVER": "unix:" + socket, "XDG_RUNTIME_DIR": dir, "HOME": dir, "PULSE_COOKIE": filepath.Join(dir, "cookie"),
		"DBUS_SESSION_BUS_ADDRESS": "disabled:", "XDG_CONFIG_HOME": dir,
	} {
		t.Setenv(name, value)
	}
	var cmd *exec.Cmd
	kill = func() {
		cmd.Process.Kill()
		cmd.Wait() // it was killed
	}
	start = func() {
		os.Remove(socket)
		cmd = exec.Command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disallow-exit", "--high-priority=no",
			"-L", "module-null-sink sink_name=movement rate=48000 channels=1",
			"-L", "module-native-protocol-unix auth-anonymous=1 socket="+socket)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for range 100 {
			if s, err := dial(); err == nil {
				s.conn.Close()
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
		t.Fatal("the sound server does not answer")
	}
	start()
	t.Cleanup(func() { kill() })
	return kill, start
}

// play plays a WAV into the server.
func play(t *testing.T, wav []byte) *exec.Cmd {
	t.Helper()
	path := filepath.Join(t.TempDir(), "played.wav")
	if err := os.WriteFile(path, wav, 0o666); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("paplay", "--latency-msec=500", path)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

// movement is a recording of a movement, as samples and as a WAV. The first second
// is silent: a server begins to play in its own time.
func movement(t *testing.T, seconds float64) (samples []float32, wav []byte) {
	t.Helper()
	src := synth.Recording{Seed: 7, Duration: seconds}.Render()
	samples = make([]float32, int(48000*seconds))
	if _, err := src.Read([][]float32{samples[48000:]}); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w, err := wavio.NewWriter(&b, wavio.Format{SampleRate: 48000, Channels: 1, BitsPerSample: 16, Frames: int64(len(samples))})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write([][]float32{samples}), w.Close()); err != nil {
		t.Fatal(err)
	}
	return samples, b.Bytes()
}

// readFile returns the samples of a recording of one channel.
func readFile(t *testing.T, path string) []float32 {
	t.Helper()
	f, err := wavio.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	x := make([]float32, f.Format().Frames)
	if n, err := f.Read([][]float32{x}); n != len(x) {
		t.Fatal(n, err)
	}
	if p := f.Problems(); len(p) > 0 {
		t.Errorf("problems: %q", p)
	}
	return x
}

// agree returns how many samples of want, silence at its start left out, are in
// got, in order and without a hole.
func agree(got, want []float32) int {
	want = want[slices.IndexFunc(want, func(v float32) bool { return v != 0 }):]
	const key = 2000
	for at := range len(got) - key {
		if near(got[at], want[0]) && near(got[at+key-1], want[key-1]) && slices.EqualFunc(got[at:at+key], want[:key], near) {
			n := 0
			for n < len(want) && at+n < len(got) && near(got[at+n], want[n]) {
				n++
			}
			return n
		}
	}
	return 0
}

// near reports that two samples are the same but for what the server rounds.
func near(a, b float32) bool { return math.Abs(float64(a-b)) < 1.5/32768 }

// Every sample that is played is recorded, in order.
func TestServer(t *testing.T) {
	soundServer(t)
	samples, wav := movement(t, 5)
	in, err := Open(t.Context(), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(in.Note, "is no microphone by itself") {
		t.Errorf("note %q", in.Note)
	}
	r := &Recording{Path: filepath.Join(t.TempDir(), "night.wav"), For: 8 * time.Second, Open: Open}
	if err := r.Start(in); err != nil {
		t.Fatal(err)
	}
	player := play(t, wav)
	if err := r.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := player.Wait(); err != nil {
		t.Fatal(err)
	}
	got := readFile(t, r.Path)
	if len(got) != 8*48000 || len(r.Parts()) != 1 || len(r.Notes()) > 0 {
		t.Errorf("%d frames in %q, noted %q", len(got), r.Parts(), r.Notes())
	}
	if n := agree(got, samples); n != len(samples)-48000 {
		t.Errorf("%d of %d samples were recorded in order", n, len(samples)-48000)
	}
}

// until waits for something that comes true.
func until(t *testing.T, what func() bool) {
	t.Helper()
	for range 400 {
		if what() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("it did not come true")
}

// A server that is killed and comes back goes on as the next part.
func TestServerKilled(t *testing.T) {
	kill, start := soundServer(t)
	in, err := Open(t.Context(), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var noted []string
	r := &Recording{Path: filepath.Join(t.TempDir(), "night.wav"), Open: Open, Noted: func(s string) { noted = append(noted, s) }}
	if err := r.Start(in); err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() { done <- r.Run(ctx) }()
	until(t, func() bool { return r.Frames() > 48000 })
	kill()
	before := r.Frames()
	time.Sleep(2 * time.Second)
	start()
	until(t, func() bool { return r.Frames() > before+96000 })
	cancel()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if len(r.Parts()) != 2 || filepath.Base(r.Parts()[1]) != "night-2.wav" {
		t.Fatalf("parts %q", r.Parts())
	}
	first, second := len(readFile(t, r.Parts()[0])), len(readFile(t, r.Parts()[1]))
	if first < 48000 || second < 48000 || int64(first+second) != r.Frames() {
		t.Errorf("%d and %d frames, of %d", first, second, r.Frames())
	}
	if len(noted) != 2 || !strings.Contains(noted[0], "the device was lost: the sound server ended") || !strings.Contains(noted[1], "the device is back after") {
		t.Errorf("noted %q", noted)
	}
	log, err := os.ReadFile(r.Path + ".log")
	if err != nil || !strings.Contains(string(log), "the device is back") {
		t.Errorf("log %q, error %v", log, err)
	}
}

// The devices are listed, and one that is not there is named.
func TestServerDevices(t *testing.T) {
	soundServer(t)
	devices, err := Devices()
	if err != nil || len(devices) != 1 || devices[0].Name != "movement.monitor" || !devices[0].Default {
		t.Errorf("%+v, error %v", devices, err)
	}
	if _, err := Open(t.Context(), Settings{Device: "telescope"}); err == nil || !strings.Contains(err.Error(), `the sound server has no device "telescope"`) {
		t.Errorf("error %v", err)
	}
	wide, err := Open(t.Context(), Settings{Device: "movement.monitor", SampleRate: 96000, Channels: 2, Bits: 24})
	if err != nil {
		t.Fatal(err)
	}
	if f := wide.Format(); f.SampleRate != 96000 || f.Channels != 2 || f.BitsPerSample != 24 {
		t.Errorf("%+v", f)
	}
	if n, err := wide.Read([][]float32{make([]float32, 9600), make([]float32, 9600)}); n != 9600 {
		t.Errorf("%d frames, error %v", n, err)
	}
	wide.Close()
	if _, err := io.Copy(io.Discard, wide.queue); err == nil {
		t.Error("it goes on after Close")
	}
}
