package web

import (
	"context"
	"net"
	"os/user"
	"strconv"
)

type peerKey struct{}

// WithPeer notes who is at the other end of a local socket; it is a
// http.Server's ConnContext.
func WithPeer(ctx context.Context, c net.Conn) context.Context {
	uid, ok := peerUID(c)
	if !ok {
		return ctx
	}
	name := "uid " + strconv.FormatUint(uint64(uid), 10)
	if u, err := user.LookupId(strconv.FormatUint(uint64(uid), 10)); err == nil {
		name = u.Username
	}
	return context.WithValue(ctx, peerKey{}, name)
}

// Peer is the name of who asks; empty where the kernel does not tell.
func Peer(ctx context.Context) string {
	name, _ := ctx.Value(peerKey{}).(string)
	return name
}
