package analysis

import (
	"bytes"
	"context"
	"errors"
	"math"
	"testing"

	"rundown/dsp/wavio"
)

// sounds are what the stretches of a fuzzed recording are of.
var sounds = []func(x []float32, level, period float64){
	func([]float32, float64, float64) {}, // zeros
	func(x []float32, level, _ float64) { copy(x, constant(len(x), float32(level))) },
	func(x []float32, level, _ float64) { copy(x, noise(len(x), float32(level))) },
	func(x []float32, level, period float64) { copy(x, wave(len(x), level, period/100)) },
	func(x []float32, level, period float64) { copy(x, wave(len(x), level, 10*period)) },
	func(x []float32, level, period float64) { // clicks
		for at := 0.0; int(at) < len(x); at += period {
			copy(x[int(at):], noise(min(20, len(x)-int(at)), float32(level)))
		}
	},
	func(x []float32, level, period float64) { // clicks in noise
		copy(x, noise(len(x), float32(level/30)))
		for at := 0.0; int(at)+20 < len(x); at += period {
			copy(x[int(at):], noise(20, float32(level)))
		}
	},
	func(x []float32, level, period float64) { // a square wave
		for i := range x {
			x[i] = float32(math.Copysign(level, math.Sin(2*math.Pi*float64(i)/period)))
		}
	},
}

// soundOf makes a recording of a plan: four bytes a stretch say of what it is, how
// long, how loud, and how fast things come in it.
func soundOf(plan []byte, rate int) []float32 {
	const longest = 30 // seconds in all
	var x []float32
	for ; len(plan) >= 4 && len(x) < longest*rate; plan = plan[4:] {
		n := 1 + int(float64(rate)*math.Exp(float64(plan[1])/30-4)) // 20 ms to 30 s
		part := make([]float32, min(n, longest*rate-len(x)))
		period := float64(rate) * (0.02 + float64(plan[3])/200)
		sounds[int(plan[0])%len(sounds)](part, math.Exp(-float64(plan[2])/25), period)
		x = append(x, part...)
	}
	return x
}

// FuzzRun analyses recordings of any sound, and damaged ones: it ends with figures
// that hang together, or with an error.
func FuzzRun(f *testing.F) {
	f.Add([]byte{2, 60, 20, 0}, []byte(nil), uint16(0))
	f.Add([]byte{5, 230, 20, 36}, []byte(nil), uint16(0))
	f.Add([]byte{5, 200, 20, 36, 0, 120, 0, 0, 5, 200, 20, 36}, []byte{0xff}, uint16(22))
	f.Add([]byte{2, 140, 60, 0, 1, 120, 0, 0, 2, 160, 60, 0}, []byte(nil), uint16(0))
	// Found by fuzzing: two sounds of a click told as sides that are in the same place.
	f.Add([]byte{161, 121, 34, 148, 5, 153, 106, 148, 252, 173, 27, 148, 57, 168, 90, 99, 6, 216, 109, 226, 5, 203, 47, 127}, []byte{34, 46}, uint16(24))
	f.Add([]byte{6, 211, 5, 65, 113, 194, 115, 189, 6, 179, 72, 189, 5, 185, 98, 119}, []byte{81}, uint16(25))
	// A room that hides beats, and louder clicks among them before the last one given out.
	f.Add([]byte{5, 166, 42, 38, 2, 165, 73, 3, 6, 182, 42, 38, 6, 123, 42, 91, 5, 187, 42, 38, 6, 170, 51, 210, 6, 173, 42, 38}, []byte{180, 31}, uint16(24))
	// Sides that are marked by sounds which a lift would bring into the wrong order.
	f.Add([]byte{6, 179, 79, 12, 6, 162, 21, 239, 5, 142, 9, 239, 6, 209, 3, 239, 5, 121, 42, 186, 212, 213, 107, 186}, []byte{134, 209}, uint16(24))
	// Clicks in nothing: their places seem to be known without any error.
	f.Add([]byte("\xff\x7f\xf9\x00\vww\x05w\xe2ww\xea"), []byte{0xc5}, uint16(25))
	f.Fuzz(func(t *testing.T, plan, damage []byte, at uint16) {
		const rate = 4000
		file := waveOf(soundOf(plan, rate), rate)
		copy(file[min(int(at), len(file)):], damage)
		src, err := wavio.NewReader(bytes.NewReader(file), "fuzz.wav")
		if err != nil {
			return
		}
		opt := settings()
		opt.Window = 5
		var got table
		r, err := Run(t.Context(), src, opt, &got)
		var narrow WindowError // of a sound that comes so seldom that it is a slow pendulum's
		if errors.Is(err, context.Canceled) || errors.As(err, &narrow) && narrow.Least > narrow.Window {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		checkRows(t, got.rows)
		if end := len(r.Windows); end > 0 && math.Abs(r.Windows[end-1].End-float64(r.Recording.Duration)) > 1e-6 {
			t.Errorf("the windows end at %v s of %v", r.Windows[end-1].End, r.Recording.Duration)
		}
		if r.Status == OK && r.Beat.Counted != int64(len(got.rows)) {
			t.Errorf("%d beats counted, %d in the table", r.Beat.Counted, len(got.rows))
		}
	})
}

// checkRows sees that beats are numbered from 0 and follow each other in time.
func checkRows(t *testing.T, rows []Row) {
	t.Helper()
	for i, row := range rows {
		if row.Index != int64(i) {
			t.Fatalf("beat %d has the number %d", i, row.Index)
		}
		if i > 0 && !(row.Time > rows[i-1].Time) {
			t.Fatalf("beat %d is at %v s, and the next one at %v s", i-1, rows[i-1].Time, row.Time)
		}
	}
}

// waveOf returns a recording as a file of 16 bits.
func waveOf(x []float32, rate int) []byte {
	var b bytes.Buffer
	w, err := wavio.NewWriter(&b, wavio.Format{SampleRate: rate, Channels: 1, BitsPerSample: 16, Frames: int64(len(x))})
	if err == nil {
		err = w.Write([][]float32{x})
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err)
	}
	return b.Bytes()
}
