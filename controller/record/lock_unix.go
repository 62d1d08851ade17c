//go:build unix && !solaris && !illumos && !aix

package record

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// lock takes the file NAME.lock for this process. The kernel lets go of it when
// the process ends, however it ends, so the file may stay: only who holds its
// lock counts. The process id in it is for people.
func lock(path string) (release func() error, err error) {
	name := path + ".lock"
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o640)
	if errors.Is(err, syscall.EROFS) || errors.Is(err, syscall.ENOSPC) {
		f, err = os.Open(name)
		if errors.Is(err, os.ErrNotExist) { // nobody can lock it, and nobody can write
			return func() error { return nil }, nil
		}
	}
	if err != nil {
		return nil, fmt.Errorf("lock the record: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder := "an unknown process"
		if text, readErr := os.ReadFile(name); readErr == nil && len(text) > 0 {
			holder = "process " + strings.TrimSpace(string(text))
		}
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			holder = err.Error()
		}
		return nil, errors.Join(fmt.Errorf("the record %s is in use by %s", path, holder), f.Close())
	}
	err = f.Truncate(0)
	if err == nil {
		_, err = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
	// The name is a courtesy: a card that is full or read-only must not stop us.
	if err != nil && !errors.Is(err, syscall.ENOSPC) && !errors.Is(err, syscall.EROFS) && !errors.Is(err, syscall.EBADF) && !errors.Is(err, syscall.EINVAL) {
		return nil, errors.Join(fmt.Errorf("lock the record: %w", err), f.Close())
	}
	return f.Close, nil
}
