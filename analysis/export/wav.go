package export

import (
	"io"

	"rundown/analysis"
	"rundown/dsp/wavio"
)

// Clip writes the sound around an event as a 16-bit mono WAV file.
func Clip(w io.Writer, c analysis.Clip, sampleRate int) error {
	out, err := wavio.NewWriter(w, wavio.Format{SampleRate: sampleRate, Channels: 1, BitsPerSample: 16, Frames: int64(len(c.Samples))})
	if err != nil {
		return err
	}
	samples := make([]float32, len(c.Samples))
	for i, x := range c.Samples {
		samples[i] = float32(x) / (1 << 15)
	}
	if err := out.Write([][]float32{samples}); err != nil {
		return err
	}
	return out.Close()
}
