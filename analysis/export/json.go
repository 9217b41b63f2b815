package export

import (
	"encoding/json"
	"io"

	"rundown/analysis"
)

// JSON writes the summary as indented JSON with a final newline.
func JSON(w io.Writer, s *analysis.Summary) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(s)
}
