package capture

import (
	"math"
	"sync"
)

// Level is how loud the channels of a recording were over a while.
type Level struct {
	Peak []float64 // greatest magnitude of each channel, dBFS; −Inf for zeros alone
	RMS  []float64 // dBFS, of a sine's peak at full scale −3
}

// meter follows how loud a recording is.
type meter struct {
	mu      sync.Mutex
	peaks   []float64
	squares []float64
	frames  float64
}

func newMeter(channels int) *meter {
	return &meter{peaks: make([]float64, channels), squares: make([]float64, channels)}
}

func (m *meter) add(block [][]float32) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for c, x := range block {
		for _, v := range x {
			a := math.Abs(float64(v))
			m.peaks[c] = max(m.peaks[c], a)
			m.squares[c] += a * a
		}
	}
	m.frames += float64(len(block[0]))
}

// take returns the level since the last time.
func (m *meter) take() Level {
	m.mu.Lock()
	defer m.mu.Unlock()
	var l Level
	for c := range m.peaks {
		l.Peak = append(l.Peak, 20*math.Log10(m.peaks[c]))
		l.RMS = append(l.RMS, 10*math.Log10(m.squares[c]/math.Max(m.frames, 1)))
		m.peaks[c], m.squares[c] = 0, 0
	}
	m.frames = 0
	return l
}
