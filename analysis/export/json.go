package export

import (
	"io"

	"rundown/analysis"
)

// JSON writes the summary as indented JSON with a final newline.
func JSON(w io.Writer, s *analysis.Summary) error {
	return analysis.WriteJSON(w, s)
}
