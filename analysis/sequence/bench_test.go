package sequence

import "testing"

// BenchmarkTell takes a night of eight hours at 28 800 beats an hour.
func BenchmarkTell(b *testing.B) {
	for _, c := range []struct {
		name string
		make func(m *movement)
	}{
		{"quiet", func(*movement) {}},
		{"outliers", func(m *movement) { m.outliers, m.wild = 0.02, 3e-3 }},
		{"tooth", func(m *movement) { m.hesitate = &hesitation{phase: 7, share: 0.4, size: 1e-3} }},
		{"uneven", func(m *movement) { m.uneven = 40e-6 }},
	} {
		b.Run(c.name, func(b *testing.B) {
			m := movement{seed: 1, interval: 0.125, beats: 230_400, scatter: 30e-6, walk: 0.015, teeth: 15}
			c.make(&m)
			tr := m.run()
			for b.Loop() {
				Tell(tr.beats)
			}
			b.ReportMetric(float64(m.beats)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mbeats/s")
		})
	}
}
