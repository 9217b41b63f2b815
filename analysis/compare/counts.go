package compare

import (
	"math"

	"rundown/analysis/beat"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// count is how often something happened in a time, in hours. Things that come
// in clusters count for fewer.
type count struct {
	n, hours float64
	clusters float64 // events that come together, at least 1
}

func (c count) rate() float64 { return c.n / c.hours }

// countOf counts the events that are wanted. The stop that ends a run is none of
// them: every run has one.
func countOf(r *runs.Run, want func(beat.Event) bool) count {
	c := count{hours: heardFor(r) / 3600, clusters: 1}
	var times []float64
	for _, e := range r.Events {
		if want(e) && !(e.Kind == beat.Stop && e.Start > float64(r.Summary.Beat.Last)-1e-3) {
			times = append(times, e.Start)
		}
	}
	c.n = float64(len(times))
	c.clusters = clustering(times, float64(r.Summary.Recording.Duration))
	return c
}

// heardFor is the time in seconds in which events could be heard.
func heardFor(r *runs.Run) float64 {
	first, last := float64(r.Summary.Beat.First), float64(r.Summary.Beat.Last)
	t := last - first
	for _, e := range r.Events {
		switch e.Kind {
		case beat.Stop, beat.Masked, beat.Gap:
			t -= max(0, min(e.End, last)-max(e.Start, first))
		}
	}
	return max(t, 1)
}

// clustering returns the variance of counts in equal parts of the run over
// their mean, from differences of neighbours, so that a slow change of how
// often they come is no clustering (J. von Neumann, Annals of Mathematical
// Statistics 12, 1941). It is 1 for Poisson counts, and never taken as less.
func clustering(times []float64, duration float64) float64 {
	width := min(3600, duration/10)
	if len(times) < 2 || !(width > 0) {
		return 1
	}
	parts := make([]float64, int(min(math.Ceil(duration/width), 1e6)))
	for _, t := range times {
		if i := int(t / width); i < len(parts) {
			parts[i]++
		}
	}
	sum := 0.0
	for i := 1; i < len(parts); i++ {
		d := parts[i] - parts[i-1]
		sum += d * d / 2
	}
	mean := float64(len(times)) / float64(len(parts))
	return max(1, sum/float64(len(parts)-1)/mean)
}

// compareCounts returns the 95 % interval of the difference of two rates an
// hour and the probability of one as large by chance.
//
// The probability is that of the exact conditional test. The interval puts together
// those of either rate as G. Y. Zou and A. Donner do (Statistics in Medicine 27,
// 2008).
func compareCounts(before, after count) (low, high, p float64) {
	clusters := max(before.clusters, after.clusters)
	a, b := before.n/clusters, after.n/clusters
	d := after.rate() - before.rate()
	lowA, highA := stats.PoissonInterval(a)
	lowB, highB := stats.PoissonInterval(b)
	scaleA, scaleB := clusters/before.hours, clusters/after.hours
	low = d - math.Hypot(after.rate()-lowB*scaleB, highA*scaleA-before.rate())
	high = d + math.Hypot(highB*scaleB-after.rate(), before.rate()-lowA*scaleA)
	return low, high, stats.Conditional(a, b, after.hours/(before.hours+after.hours))
}
