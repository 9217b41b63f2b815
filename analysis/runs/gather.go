package runs

import (
	"math"

	"rundown/analysis"
	"rundown/analysis/beat"
)

// Gatherer keeps in memory what an analysis finds: 4 bytes a beat, and the
// events. It is an analysis.Sink. The zero value is ready for use.
type Gatherer struct {
	events    []beat.Event
	residuals []float32
}

// Beats implements analysis.Sink.
func (g *Gatherer) Beats(rows []analysis.Row) error {
	for i := range rows {
		g.residuals = append(g.residuals, residual(rows[i].Heard, rows[i].Residual))
	}
	return nil
}

// Events implements analysis.Sink.
func (g *Gatherer) Events(events []beat.Event) error {
	g.events = append(g.events, events...)
	return nil
}

// Run returns the run whose analysis ended with r. path names it.
func (g *Gatherer) Run(path string, r *analysis.Result) *Run {
	run := &Run{
		Path: path, Summary: r.Summary, Windows: r.Windows, Kind: r.AmplitudeKind,
		Events: g.events, Residuals: g.residuals,
	}
	run.jitter()
	return run
}

func residual(heard bool, x float64) float32 {
	if !heard {
		return float32(math.NaN())
	}
	return float32(x)
}
