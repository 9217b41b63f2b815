// Package export writes the results of a run: tables, the summary as JSON and
// as text, sound clips, and the folder that holds them, whole or not at all.
package export
