package synth

import (
	"io"
	"math"
	"testing"

	"rundown/dsp/wavio"
)

// read returns the whole of a source, by channel, read in blocks of n frames.
func read(t testing.TB, src wavio.Source, n int) [][]float32 {
	t.Helper()
	channels := src.Format().Channels
	all := make([][]float32, channels)
	buf := make([][]float32, channels)
	for c := range buf {
		buf[c] = make([]float32, n)
	}
	for {
		got, err := src.Read(buf)
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		for c := range all {
			all[c] = append(all[c], buf[c][:got]...)
		}
	}
}

// rms returns the root mean square.
func rms(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum / float64(len(x)))
}

// near fails where got differs from want by more than tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.10g, want %.10g within %g", what, got, want, tolerance)
	}
}
