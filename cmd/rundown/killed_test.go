//go:build linux

package main

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// By default, recordings are killed a few times, always at the same moments.
var (
	kills    = flag.Int("kills", 6, "how often a recording is killed")
	killSeed = flag.Uint64("killseed", 1, "seed of the moments at which it is")
)

// program builds the command, for tests that end it from outside.
func program(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "rundown")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// sound is a recording of a movement as a WAV stream.
func sound(t *testing.T, seconds float64) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := writeSound(t.Context(), &b, synth.Recording{Seed: 5, Duration: seconds}.Render()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whenever it is killed, the recording is read without a complaint, up to its last
// five seconds.
func TestRecordKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: it takes some seconds")
	}
	const faster = 4
	path, wav := program(t), sound(t, 60)
	rng := rand.New(rand.NewPCG(18, *killSeed))
	for range *kills {
		length := time.Duration(rng.IntN(1500)) * time.Millisecond
		t.Run(length.String(), func(t *testing.T) {
			t.Parallel()
			name := filepath.Join(t.TempDir(), "night.wav")
			cmd := exec.Command(path, "record", "--quiet", "--only", "-", name)
			in, err := cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			fed := begin(t, in, wav, name)
			fed += feed(in, wav[fed:], length, faster)
			if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
				t.Fatal(err)
			}
			in.Close()
			cmd.Wait() // it was killed
			held := heldIn(t, name, wav)
			t.Logf("holds %.1f s", held)
			if float64(fed)/96000-held > 5 {
				t.Errorf("%.1f s of %.1f s", held, float64(fed)/96000)
			}
		})
	}
}

// begin writes a second of a stream, waits until some of it is in the file, and
// returns how many bytes it wrote.
func begin(t *testing.T, w io.Writer, wav []byte, name string) int {
	t.Helper()
	const header = 80
	n, err := w.Write(wav[:96000])
	for range 1200 {
		if info, missing := os.Stat(name); missing == nil && info.Size() > header {
			return n
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("nothing was recorded: %v", err)
	return n
}

// feed writes a stream so many times as fast as it was recorded, for a while, and
// returns how many bytes it wrote.
func feed(w io.Writer, wav []byte, length time.Duration, faster int) (fed int) {
	const step = 10 * time.Millisecond
	size := 96000 * faster / 100
	for end := time.Now().Add(length); time.Now().Before(end) && fed+size < len(wav); time.Sleep(step) {
		n, err := w.Write(wav[fed : fed+size])
		if fed += n; err != nil {
			break
		}
	}
	return fed
}

// heldIn checks that a recording holds the samples of wav, as many as there are,
// without a problem, and returns how many seconds.
func heldIn(t *testing.T, name string, wav []byte) float64 {
	t.Helper()
	f, err := wavio.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := wavio.NewReader(bytes.NewReader(wav), "what was fed")
	if err != nil {
		t.Fatal(err)
	}
	got, dst := make([]float32, 4800), make([]float32, 4800)
	frames := 0
	for {
		n, err := f.Read([][]float32{got})
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		want.Read([][]float32{dst})
		for i, v := range got[:n] {
			if v != dst[i] {
				t.Fatalf("frame %d is %v, not %v", frames+i, v, dst[i])
			}
		}
		frames += n
	}
	if p := f.Problems(); len(p) > 0 {
		t.Errorf("after %d frames: %q", frames, p)
	}
	return float64(frames) / 48000
}

// A disk that fills ends the recording with one line, and what is there is whole.
func TestRecordOnFullDisk(t *testing.T) {
	disk, _ := smallDisk(t, 3<<20)
	wav := sound(t, 60)
	name := filepath.Join(disk, "night.wav")
	var stderr bytes.Buffer
	code := run(t.Context(), []string{"record", "--quiet", "-", name}, bytes.NewReader(wav), io.Discard, &stderr)
	if text := stderr.String(); code != exitFailure || !strings.Contains(text, "night.wav: no space left on device: what was recorded before is there") || strings.Count(text, "\n") != 1 {
		t.Errorf("exit code %d: %s", code, text)
	}
	if held := heldIn(t, name, wav); held < 30 {
		t.Errorf("%.1f s were kept, of 32 that there was room for", held)
	}
	if _, err := os.Stat(filepath.Join(disk, "night.rundown")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("results were begun: %v", err)
	}
}
