package wavio_test

import (
	"bytes"
	"fmt"
	"io"

	"rundown/dsp/wavio"
)

// A recording is written, and read again as a stream of frames.
func Example() {
	var file bytes.Buffer
	w, err := wavio.NewWriter(&file, wavio.Format{SampleRate: 48000, Channels: 1, BitsPerSample: 16, Frames: 3})
	if err != nil {
		panic(err)
	}
	if err := w.Write([][]float32{{0, 0.5, -0.25}}); err != nil {
		panic(err)
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	r, err := wavio.NewReader(&file, "tick.wav")
	if err != nil {
		panic(err)
	}
	samples := make([]float32, 2)
	for {
		n, err := r.Read([][]float32{samples})
		if err == io.EOF {
			break
		}
		fmt.Println(samples[:n])
	}
	fmt.Println(r.Format().SampleRate, "Hz", r.Problems())
	// Output:
	// [0 0.5]
	// [-0.25]
	// 48000 Hz []
}
