// Package wavtest checks implementations of wavio.Source.
package wavtest

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// blockSizes are the frames asked for at once. All give the same samples.
var blockSizes = []int{4096, 1, 2, 3, 7, 64, 1000, 65536}

// CheckSource fails t if a Source breaks the contract written down with
// wavio.Source. newSource returns a new one at its start each time, always with
// the same samples, and few of them: they are read one by one, too.
func CheckSource(t testing.TB, newSource func() wavio.Source) {
	t.Helper()
	if err := check(newSource); err != nil {
		t.Error(err)
	}
}

// result is all that a Source gives away.
type result struct {
	samples  [][]float32 // nil: not asked for
	problems []string
	err      error // nil for io.EOF
}

func check(newSource func() wavio.Source) error {
	all := func(int, int) bool { return true }
	want, err := readAll(newSource(), blockSizes[0], all)
	if err != nil {
		return fmt.Errorf("blocks of %d: %w", blockSizes[0], err)
	}
	if err := checkProblems(want.problems); err != nil {
		return err
	}
	for _, size := range blockSizes[1:] {
		got, err := readAll(newSource(), size, all)
		if err != nil {
			return fmt.Errorf("blocks of %d: %w", size, err)
		}
		if err := compare(got, want); err != nil {
			return fmt.Errorf("blocks of %d against %d: %w", size, blockSizes[0], err)
		}
		if !slices.Equal(got.problems, want.problems) {
			return fmt.Errorf("blocks of %d: problems %q, of %d: %q", size, got.problems, blockSizes[0], want.problems)
		}
	}
	for only := range want.samples {
		got, err := readAll(newSource(), 100, func(c, _ int) bool { return c == only })
		if err != nil {
			return fmt.Errorf("channel %d alone: %w", only, err)
		}
		if err := compare(got, want); err != nil {
			return fmt.Errorf("channel %d alone: %w", only, err)
		}
		for _, size := range []int{1, 100, 4096, 100_000} {
			if err := checkStore(newSource(), only, size, got); err != nil {
				return fmt.Errorf("channel %d stored in blocks of %d: %w", only, size, err)
			}
		}
	}
	return checkTurns(newSource(), want)
}

// checkStore reads a channel as it is stored, and compares it with the same
// channel read alone.
func checkStore(src wavio.Source, channel, size int, want result) error {
	got := result{samples: make([][]float32, len(want.samples))}
	got.samples[channel] = []float32{}
	var s wavio.Stored
	for n := size; ; {
		last := n
		var err error
		n, err = wavio.Store(src, &s, channel, size)
		if n != s.Len() || n > size || (n > 0) == (err != nil) {
			return fmt.Errorf("%d frames, %d of them stored, error %v", n, s.Len(), err)
		}
		if err != nil {
			if err != io.EOF {
				got.err = err
			}
			if _, again := wavio.Store(src, &s, channel, size); again != err {
				return fmt.Errorf("the end doesn't last: error %v after %v", again, err)
			}
			break
		}
		if last < size {
			return fmt.Errorf("%d frames after fewer than asked for", n)
		}
		x := make([]float32, n)
		s.Samples(x[:n/3], 0) // in two goes
		s.Samples(x[n/3:], n/3)
		got.samples[channel] = append(got.samples[channel], x...)
	}
	if got.problems = src.Problems(); !slices.Equal(got.problems, want.problems) {
		return fmt.Errorf("problems %q, not %q", got.problems, want.problems)
	}
	return compare(got, want)
}

// checkTurns asks for another channel in each block.
func checkTurns(src wavio.Source, want result) error {
	channels := len(want.samples)
	got, err := readAll(src, 100, func(c, block int) bool { return c == block%channels })
	if err != nil {
		return fmt.Errorf("channels in turns: %w", err)
	}
	for c := range got.samples {
		var turns []float32
		for at := c * 100; at < len(want.samples[c]); at += channels * 100 {
			turns = append(turns, want.samples[c][at:min(at+100, len(want.samples[c]))]...)
		}
		if !slices.Equal(got.samples[c], turns) {
			return fmt.Errorf("channel %d differs where the channels are asked for in turns", c)
		}
	}
	return nil
}

// readAll reads a Source to its end, in blocks of size frames, of each block the
// channels that are wanted.
func readAll(src wavio.Source, size int, wanted func(channel, block int) bool) (result, error) {
	f := src.Format()
	if f.SampleRate <= 0 || f.Channels <= 0 || f.Frames < -1 || !slices.Contains([]int{8, 16, 24, 32, 64}, f.BitsPerSample) {
		return result{}, fmt.Errorf("format %+v", f)
	}
	all := result{samples: make([][]float32, f.Channels)}
	dst := make([][]float32, f.Channels)
	ended := false
	for block := 0; ; block++ {
		for c := range dst {
			dst[c] = nil
			if wanted(c, block) {
				dst[c] = make([]float32, size)
				all.samples[c] = slices.Grow(all.samples[c], 1) // no longer nil
			}
		}
		n, err := src.Read(dst)
		switch {
		case err != nil && n != 0:
			return all, fmt.Errorf("%d frames together with the error %v", n, err)
		case err == nil && (n <= 0 || n > size):
			return all, fmt.Errorf("%d frames without an error", n)
		case err == nil && ended:
			return all, fmt.Errorf("%d frames after fewer than asked for", n)
		}
		if err != nil {
			if err != io.EOF {
				all.err = err
			}
			break
		}
		ended = n < size
		for c := range dst {
			if dst[c] != nil {
				all.samples[c] = append(all.samples[c], dst[c][:n]...)
			}
		}
	}
	for range 2 {
		if n, err := src.Read(dst); n != 0 || all.err == nil && err != io.EOF || all.err != nil && err != all.err {
			return all, fmt.Errorf("the end doesn't last: %d frames, error %v after %v", n, err, all.err)
		}
	}
	if src.Format() != f {
		return all, fmt.Errorf("format %+v at the end, %+v at the start", src.Format(), f)
	}
	all.problems = src.Problems()
	return all, checkFinite(all.samples)
}

func checkFinite(samples [][]float32) error {
	for c := range samples {
		for i, v := range samples[c] {
			if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
				return fmt.Errorf("channel %d, frame %d: %v", c, i, v)
			}
		}
	}
	return nil
}

func checkProblems(problems []string) error {
	for _, p := range problems {
		if len(p) < 10 || !strings.HasSuffix(p, ".") || strings.ContainsAny(p, "\n\r") {
			return fmt.Errorf("problem %q is no sentence", p)
		}
	}
	return nil
}

// compare compares the channels that were read in both.
func compare(got, want result) error {
	if (got.err == nil) != (want.err == nil) || got.err != nil && got.err.Error() != want.err.Error() {
		return fmt.Errorf("error %v, not %v", got.err, want.err)
	}
	for c := range want.samples {
		g, w := got.samples[c], want.samples[c]
		if g == nil {
			continue
		}
		if len(g) != len(w) {
			return fmt.Errorf("channel %d: %d frames, not %d", c, len(g), len(w))
		}
		for i := range w {
			if g[i] != w[i] {
				return fmt.Errorf("channel %d, frame %d: %v, not %v", c, i, g[i], w[i])
			}
		}
	}
	return nil
}
