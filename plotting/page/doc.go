// Package page writes a run as a report to be passed on: one HTML file that
// needs no network, reads on a telephone and prints on A4.
//
// A report is made in these steps:
//
//  1. the questions that a maker asks are answered from the summary, in the
//     words of package prose (answer.go);
//  2. the charts that can be read closely go in as they were prepared, few enough points to keep
//     the file small (view.go); their pictures stay in the page for
//     print and for readers without scripts;
//  3. events get their sounds (table.go, sound.go): the most telling ones within the
//     file, as far as there is room, the others beside it;
//  4. the template (assets/report.html) is filled in (view.go), which escapes
//     whatever came from the names of files.
//
// Compare does the like for two runs (pair.go, assets/compare.html).
//
// The interactive charts are drawn by uPlot (MIT licence, in assets), from
// the npm package uplot 1.6.32. The same input gives the same bytes.
package page
