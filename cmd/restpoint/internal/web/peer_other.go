//go:build !linux

package web

import "net"

// peerUID is not asked for here: the program looks after real vessels on Linux only.
func peerUID(net.Conn) (uint32, bool) { return 0, false }
