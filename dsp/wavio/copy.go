package wavio

import "io"

// Copy writes all of src to w, and leaves w to be closed. The two must have the
// same number of channels.
func Copy(w *Writer, src Source) error {
	block := make([][]float32, src.Format().Channels)
	frames := max(bufferSize/4/len(block), 1)
	for c := range block {
		block[c] = make([]float32, frames)
	}
	part := make([][]float32, len(block))
	for {
		n, err := src.Read(block)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		for c := range part {
			part[c] = block[c][:n]
		}
		if err := w.Write(part); err != nil {
			return err
		}
	}
}
