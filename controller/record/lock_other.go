//go:build !unix || solaris || illumos || aix

package record

// lock does nothing where there is no flock: such systems are for trying things
// out, and SQLite itself still refuses a second process.
func lock(string) (release func() error, err error) {
	return func() error { return nil }, nil
}
