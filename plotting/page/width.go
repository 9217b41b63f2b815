package page

import (
	"slices"

	"rundown/analysis"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// width is a stable band for one tolerance.
type width struct {
	Allowed, From, To, Lasts, Mean string
	Chosen                         bool
}

// widths says how long the rate is steady for stricter and looser demands.
func widths(r Run) []width {
	chosen := float64(r.StableBand.Tolerance)
	tolerances := []float64{1, 2, 5, 10, 20, 50}
	if !slices.Contains(tolerances, chosen) {
		tolerances = append(tolerances, chosen)
		slices.Sort(tolerances)
	}
	var ws []width
	for _, tolerance := range tolerances {
		w := width{Allowed: prose.Plain(analysis.Number(tolerance), "s/day"), From: "–", To: "–", Lasts: "none", Mean: "–", Chosen: tolerance == chosen}
		if b, ok := rate.StableBand(r.Windows, tolerance); ok {
			w.From, w.To = prose.Span(analysis.Number(b.Start)), prose.Span(analysis.Number(b.End))
			w.Lasts = prose.Span(analysis.Number(b.End - b.Start))
			w.Mean = prose.SignedWithError(analysis.Number(b.Mean.X), analysis.Number(b.Mean.SE), "s/day")
		}
		ws = append(ws, w)
	}
	return ws
}
