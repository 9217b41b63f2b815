package wavio_test

import (
	"path/filepath"
	"strconv"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

func TestFollowerIsASource(t *testing.T) {
	dir, n := t.TempDir(), 0
	want := coarse(2, 5000)
	wavtest.CheckSource(t, func() wavio.Source {
		n++
		g, err := wavio.Create(filepath.Join(dir, strconv.Itoa(n)), pcm16.target(2, -1))
		if err != nil {
			t.Fatal(err)
		}
		if err := g.Write(want); err != nil {
			t.Fatal(err)
		}
		if err := g.Close(); err != nil {
			t.Fatal(err)
		}
		f, err := g.Follow(0)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	})
}
