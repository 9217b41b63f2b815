//go:build !(darwin || linux)

package export

import "errors"

// exchange can't be done here.
func exchange(a, b string) error { return errors.ErrUnsupported }
