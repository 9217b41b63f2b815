package wavio_test

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

// save writes a recording into a folder of the test.
func save(t testing.TB, name string, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestOpen(t *testing.T) {
	want := coarse(2, 70_000)
	for _, l := range layouts {
		path := save(t, "night.wav", l.build(pcm16.format(48000, 2), pcm16.samples(want)))
		f, err := wavio.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		expect(t, f, want)
		if p := f.Problems(); len(p) > 0 {
			t.Errorf("%s: problems %q", l.name, p)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
		if err := os.Remove(path); err != nil {
			t.Errorf("%s: still open: %v", l.name, err)
		}
	}
}

func TestOpenRefuses(t *testing.T) {
	folder := t.TempDir()
	tests := []struct{ path, want string }{
		{folder, "is a folder"},
		{filepath.Join(folder, "missing.wav"), "check its name"},
		{filepath.Join(folder, "x\n.wav"), "check its name"},
		{save(t, "night.wav", []byte("OggS")), "holds Ogg"},
		{save(t, "night.wav", nil), "is empty"},
		{os.DevNull, "name a recording"},
	}
	for _, test := range tests {
		_, err := wavio.Open(test.path)
		if err == nil || !strings.Contains(err.Error(), test.want) || strings.Contains(err.Error(), "\n") ||
			!strings.Contains(err.Error(), filepath.Base(test.path)[:1]) {
			t.Errorf("%q: error %v, want %q", test.path, err, test.want)
		}
	}
	if _, err := wavio.Open(filepath.Join(folder, "missing.wav")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error %v is no fs.ErrNotExist", err)
	}
}

// TestOpenBeyond4GiB opens a sparse RF64 file whose format comes after the
// samples, and reads the first of them.
func TestOpenBeyond4GiB(t *testing.T) {
	const frames = 3 << 30
	want := coarse(1, 10_000)
	head := wave64("RF64", 2*frames, sized(math.MaxUint32, pcm16.samples(want)))
	format := pcm16.format(96000, 1)
	path := save(t, "night.wav", head)
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if _, err := file.WriteAt(format, int64(len(head))-20_000+2*frames); err != nil {
		t.Skipf("skipped: no sparse files here: %v", err)
	}

	f, err := wavio.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if f.Format().Frames != frames {
		t.Errorf("%d frames announced, want %d", f.Format().Frames, int64(frames))
	}
	dst := [][]float32{make([]float32, len(want[0]))}
	if n, err := f.Read(dst); err != nil || n != len(want[0]) || !slices.Equal(dst[0], want[0]) {
		t.Errorf("%d frames, error %v, or other samples than were stored", n, err)
	}
}

func TestOpenContract(t *testing.T) {
	path := save(t, "night.wav", wave(pcm16.format(8000, 2), chunk("data", pcm16.samples(coarse(2, 3000)))))
	wavtest.CheckSource(t, func() wavio.Source {
		f, err := wavio.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	})
}

// TestReaderRecordings reads recordings of real clocks.
func TestReaderRecordings(t *testing.T) {
	folder := os.Getenv("RUNDOWN_RECORDINGS")
	if folder == "" {
		t.Skip("skipped: RUNDOWN_RECORDINGS names no folder of recordings")
	}
	paths, err := filepath.Glob(filepath.Join(folder, "*", "*.wav"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no recordings in %s: %v", folder, err)
	}
	for _, path := range paths {
		f, err := wavio.Open(path)
		if err != nil {
			t.Error(err)
			continue
		}
		got, err := readAll(f)
		if err != nil || int64(len(got[0])) != f.Format().Frames || len(f.Problems()) > 0 {
			t.Errorf("%s: %d of %d frames, error %v, problems %q", path, len(got[0]), f.Format().Frames, err, f.Problems())
		}
		f.Close()
	}
}
