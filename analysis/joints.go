package analysis

import (
	"path/filepath"

	"rundown/dsp/wavio"
)

// Joint is where one part of a run ends and the next begins.
type Joint struct {
	Before, After string  // names of the parts
	At            float64 // the part of all frames that lies before it
}

// Joints lists the joints of parts; none where the length of one is not known
// before it is read.
func Joints(paths []string) []Joint {
	if len(paths) < 2 {
		return nil
	}
	var list []Joint
	total := int64(0)
	for i, path := range paths {
		f, err := wavio.Open(path)
		if err != nil {
			return nil
		}
		frames := f.Format().Frames
		f.Close()
		if frames < 0 {
			return nil
		}
		if i > 0 {
			list = append(list, Joint{filepath.Base(paths[i-1]), filepath.Base(path), float64(total)})
		}
		total += frames
	}
	for i := range list {
		list[i].At /= float64(total)
	}
	return list
}
