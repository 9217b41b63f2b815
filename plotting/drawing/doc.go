// Package drawing draws what a maker cuts, at its true size, with dimensions: as SVG to be
// printed, and as DXF R12 for a machine or a drawing program.
//
// A Drawing is prepared once (fusee.go), in millimetres, x along the axis from the large
// end and y outwards, and written by two back ends (svg.go, dxf.go). The same input gives
// the same bytes.
package drawing
