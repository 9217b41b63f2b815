// Package chart draws the results of a run for the bench and for print: a
// plain technical report, 180 mm wide at 216 dots an inch.
//
// Each function returns a Figure: panels with their axes and ticks, series,
// bands, areas, marks and notes. It is prepared once and drawn by two back
// ends: WritePNG turns it into plots of gonum/plot with a theme of ours
// (style.go, plot.go), lays them out (layout.go) and writes a picture (png.go);
// its JSON is what a page draws. A Figure is made in these steps:
//
//  1. the figures of the windows become curves, broken where there is no figure
//     and where the movement stood still, and averaged where they are too many
//     to be drawn (run.go);
//  2. the axis takes a range that a few wild figures can't stretch; whatever
//     lies beyond it is marked at the edge and told of in a note (axis.go);
//  3. the axes get their ticks: round values, and elapsed time in the unit that
//     suits its length.
//
// Colours are ordered by lightness and never tell anything alone: shape, line
// width or a label says it too. No state is kept and no setting of a library
// changed; the same input gives the same bytes.
package chart
