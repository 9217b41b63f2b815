// Package compare tells whether a movement runs better after a change than
// before it, by how much, and whether that could be chance.
//
//  1. what must not be compared as if alike is refused, or said (alike.go);
//  2. windows of the two runs are paired, by elapsed time or by amplitude
//     (align.go);
//  3. a model of how slowly the difference wanders is fitted to the pairs
//     (stats.Series). The intervals of means and slopes follow from it exactly
//     (metrics.go), those of widths and lengths by simulation (course.go);
//  4. rare events are compared as counts (counts.go, recurrence.go);
//  5. verdicts allow for how many figures are compared (verdict.go).
package compare
