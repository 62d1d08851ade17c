package web

import (
	"net"

	"golang.org/x/sys/unix"
)

// peerUID asks the kernel who is at the other end.
func peerUID(c net.Conn) (uint32, bool) {
	u, ok := c.(*net.UnixConn)
	if !ok {
		return 0, false
	}
	raw, err := u.SyscallConn()
	if err != nil {
		return 0, false
	}
	var cred *unix.Ucred
	var credErr error
	err = raw.Control(func(fd uintptr) {
		cred, credErr = unix.GetsockoptUcred(int(fd), unix.SOL_SOCKET, unix.SO_PEERCRED)
	})
	if err != nil || credErr != nil {
		return 0, false
	}
	return cred.Uid, true
}
