// Package chart draws the results of a run for the bench and for print: a
// plain technical report, 180 mm wide at 216 dots an inch.
//
// Each function returns a Figure, which WritePNG and WriteSVG draw. A chart is
// made in these steps:
//
//  1. the figures of the windows become series, broken where there is no
//     figure and where the movement stood still (series.go);
//  2. the axis takes a range that a few wild figures can't stretch; whatever
//     lies beyond it is counted, marked at the edge and told of in a note
//     (span.go);
//  3. the axes get their ticks: round values, and elapsed time in the unit
//     that suits its length (value.go, elapsed.go);
//  4. the panels, plots of gonum/plot with frames and axes of our own, are laid
//     out with everything that has text outside the frames, so that nothing
//     can cover the data (figure.go, panel.go).
//
// Colours are ordered by lightness and never tell anything alone: shape, line
// width or a label says it too. Lines are thinned to the picture's resolution
// when they are drawn. No state is kept and no setting of a library changed;
// the same input gives the same bytes.
package chart
