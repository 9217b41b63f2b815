package runs

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

func TestWiden(t *testing.T) {
	nan := math.NaN()
	r := Run{Summary: analysis.Summary{Beat: analysis.Beat{Nominal: 3600}}}
	for i := range 5 {
		w := rate.Window{
			Start: float64(10 * i), End: float64(10*i + 10), Beats: 10, Heard: 10,
			Period: rate.Value{X: 2 + float64(i)/1000, SE: 1e-4}, Amplitude: rate.Value{X: nan, SE: nan}, Stopped: i == 2,
		}
		if i == 1 {
			w.Heard = 0 // its figures do not count
		}
		r.Windows = append(r.Windows, w)
	}
	r.Widen(2)
	if len(r.Windows) != 3 || r.Width() != 20 || r.Windows[2].End != 50 || r.Windows[2].Beats != 10 {
		t.Fatalf("%+v", r.Windows)
	}
	near := func(name string, got, want float64) {
		if !(math.Abs(got-want) < 1e-12) {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
	near("period of a half heard window", r.Windows[0].Period.X, 2)
	near("mean period", r.Windows[1].Period.X, 2.0025)
	near("its error", r.Windows[1].Period.SE, 1e-4/math.Sqrt2)
	near("rate", r.Windows[1].Rate.X, 86400*(2/2.0025-1))
	if !math.IsNaN(r.Windows[0].Amplitude.X) || r.Windows[0].Stopped || !r.Windows[1].Stopped || r.Windows[0].Beats != 20 {
		t.Errorf("%+v", r.Windows[:2])
	}
}

func TestNominal(t *testing.T) {
	r := Run{Windows: []rate.Window{{End: 60, Period: rate.Value{X: 0.4, SE: 1e-6}}}}
	r.Nominal(18001)
	if got, want := r.Windows[0].Rate.X, 86400*(18000./18001-1); math.Abs(got+want) > 1e-3 && math.Abs(got-want) > 1e-3 {
		t.Errorf("rate %v, want %v", got, want)
	}
	if r.Windows[0].Rate.X > 0 || r.Summary.Beat.Nominal != 18001 {
		t.Errorf("rate %v against %v", r.Windows[0].Rate.X, r.Summary.Beat.Nominal)
	}
}

// The scatter of each window is that of its own beats, wild ones left aside.
func TestGathererJitter(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var g Gatherer
	result := &analysis.Result{}
	const n = 2000
	for k, sigma := range []float64{20e-6, 60e-6} {
		rows := make([]analysis.Row, n)
		for i := range rows {
			rows[i] = analysis.Row{Beat: beat.Beat{Heard: i%7 != 0}, Residual: sigma * rng.NormFloat64()}
			if i%50 == 1 {
				rows[i].Residual = 0.1
			}
		}
		if err := g.Beats(rows); err != nil {
			t.Fatal(err)
		}
		result.Windows = append(result.Windows, rate.Window{Start: float64(k), End: float64(k + 1), Beats: n})
	}
	r := g.Run("night.wav", result)
	for k, want := range []float64{20e-6, 60e-6} {
		if got := r.Windows[k].Jitter; math.Abs(got/want-1) > 0.1 {
			t.Errorf("jitter of window %d is %v, want %v", k, got, want)
		}
	}
	if len(r.Residuals) != 2*n || !math.IsNaN(float64(r.Residuals[0])) {
		t.Errorf("%d residuals, the first %v", len(r.Residuals), r.Residuals[0])
	}
}

func BenchmarkRead(b *testing.B) {
	dir := b.TempDir()
	folder(b, dir, nil)
	for b.Loop() {
		if _, err := Read(dir); err != nil {
			b.Fatal(err)
		}
	}
}
