package wavio

import (
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// grown returns random samples that 16 bits hold exactly.
func grown(channels, frames int) [][]float32 {
	rng := rand.New(rand.NewPCG(1, 2))
	all := make([][]float32, channels)
	for c := range all {
		all[c] = make([]float32, frames)
		for i := range all[c] {
			all[c][i] = float32(rng.IntN(1<<16)-1<<15) / (1 << 15)
		}
	}
	return all
}

func between(all [][]float32, from, to int) [][]float32 {
	out := make([][]float32, len(all))
	for c := range all {
		out[c] = all[c][from:to]
	}
	return out
}

// whole reads a file, which must hold the samples and nothing that is wrong.
func whole(t *testing.T, path string, want [][]float32) {
	t.Helper()
	f, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got := make([][]float32, len(want))
	for c := range got {
		got[c] = make([]float32, len(want[0])+1)
	}
	n, err := f.Read(got)
	if err != nil && err != io.EOF {
		t.Fatal(err)
	}
	for c := range want {
		if !slices.Equal(got[c][:n], want[c]) {
			t.Fatalf("channel %d: %d frames, not the %d that were written, or others", c, n, len(want[c]))
		}
	}
	if f.Read(got); len(f.Problems()) > 0 {
		t.Fatalf("problems: %q", f.Problems())
	}
}

// A recording is whole after every write, whatever comes then.
func TestGrowingIsWholeAtAnyTime(t *testing.T) {
	for _, f := range []Format{
		{SampleRate: 48000, Channels: 1, BitsPerSample: 16},
		{SampleRate: 96000, Channels: 1, BitsPerSample: 24},
		{SampleRate: 44100, Channels: 2, BitsPerSample: 24},
		{SampleRate: 8000, Channels: 3, BitsPerSample: 32, Float: true},
	} {
		path := filepath.Join(t.TempDir(), "night.wav")
		g, err := Create(path, f)
		if err != nil {
			t.Fatal(err)
		}
		all := grown(f.Channels, 70_001)
		at := 0
		for _, n := range []int{1, 1, 4799, 65_200} {
			if err := g.Write(between(all, at, at+n)); err != nil {
				t.Fatal(err)
			}
			at += n
			whole(t, path, between(all, 0, at))
		}
		if err := g.Close(); err != nil {
			t.Fatal(err)
		}
		whole(t, path, all)
	}
}

// No file is written over.
func TestCreateKeepsWhatIsThere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.wav")
	if err := os.WriteFile(path, []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(path, Format{SampleRate: 48000, Channels: 1, BitsPerSample: 16}); !errors.Is(err, ErrExists) {
		t.Errorf("error %v", err)
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "mine" {
		t.Errorf("the file holds %q, error %v", b, err)
	}
}

// Past 4 GiB the header becomes that of RF64, in place. The file has a hole
// where the first hours would be.
func TestGrowingPast4GiB(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.wav")
	g, err := Create(path, Format{SampleRate: 96000, Channels: 2, BitsPerSample: 24})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	for frames, id := range map[int64]string{(1<<32 - 200) / 6: "RIFF", (1<<32 + 200) / 6: "RF64"} {
		g.frames = frames
		if err := g.Write(grown(2, 10)); err != nil {
			t.Fatal(err)
		}
		f, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		head := make([]byte, 4)
		if _, err := f.file.ReadAt(head, 0); err != nil || string(head) != id {
			t.Errorf("%d frames: it begins with %q, error %v", frames, head, err)
		}
		if got := f.Format().Frames; got != frames+10 {
			t.Errorf("%s tells %d frames, not %d", id, got, frames+10)
		}
		f.Close()
	}
}

// A follower waits for what is still to come, and gives all of it.
func TestFollower(t *testing.T) {
	g, err := Create(filepath.Join(t.TempDir(), "night.wav"), Format{SampleRate: 48000, Channels: 2, BitsPerSample: 16})
	if err != nil {
		t.Fatal(err)
	}
	all := grown(2, 100_000)
	follower, err := g.Follow(1000)
	if err != nil {
		t.Fatal(err)
	}
	defer follower.Close()
	wrote := make(chan error, 1)
	go func() {
		var err error
		for at := 0; at < 100_000 && err == nil; at += 4000 {
			err = g.Write(between(all, at, at+4000))
		}
		wrote <- errors.Join(err, g.Close())
	}()
	var got [2][]float32
	dst := [][]float32{make([]float32, 1700), make([]float32, 1700)}
	for {
		n, err := follower.Read(dst)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for c := range got {
			got[c] = append(got[c], dst[c][:n]...)
		}
	}
	if err := <-wrote; err != nil {
		t.Fatal(err)
	}
	for c := range got {
		if !slices.Equal(got[c], all[c][1000:]) {
			t.Errorf("channel %d: %d frames, or others than were written", c, len(got[c]))
		}
	}
}

// A follower that is closed waits no longer.
func TestFollowerCloses(t *testing.T) {
	g, err := Create(filepath.Join(t.TempDir(), "night.wav"), Format{SampleRate: 48000, Channels: 1, BitsPerSample: 16})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	follower, err := g.Follow(0)
	if err != nil {
		t.Fatal(err)
	}
	read := make(chan error)
	go func() {
		_, err := follower.Read([][]float32{make([]float32, 10)})
		read <- err
	}()
	follower.Close()
	if err := <-read; err != io.EOF {
		t.Errorf("error %v", err)
	}
}
