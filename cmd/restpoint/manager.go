package main

import (
	"net"
	"os"
	"strconv"
	"sync"
	"time"
)

// serviceManager tells the one that started us how we are, by the datagrams of
// sd_notify(3). Without one it does nothing.
type serviceManager struct {
	address string
	every   time.Duration // between two signs of life; 0 = none is wanted
	mu      sync.Mutex
	last    time.Time
	ready   bool
}

func newServiceManager(getenv func(string) string) *serviceManager {
	m := &serviceManager{address: getenv("NOTIFY_SOCKET")}
	us, err := strconv.ParseInt(getenv("WATCHDOG_USEC"), 10, 64)
	pid := getenv("WATCHDOG_PID")
	if err == nil && us > 0 && (pid == "" || pid == strconv.Itoa(os.Getpid())) {
		m.every = time.Duration(us) * time.Microsecond / 4
	}
	return m
}

// alive is called after every finished step, and by nothing else: a loop that
// hangs must look hung.
func (m *serviceManager) alive() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if !m.ready {
		m.ready = true
		m.send("READY=1")
	}
	if now := time.Now(); m.every > 0 && now.Sub(m.last) >= m.every {
		m.last = now
		m.send("WATCHDOG=1")
	}
}

func (m *serviceManager) stopping() { m.send("STOPPING=1") }

// send never blocks for long and never fails the caller: a manager that is gone
// must not stop the control.
func (m *serviceManager) send(state string) {
	if m.address == "" {
		return
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: m.address, Net: "unixgram"})
	if err != nil {
		return
	}
	_ = c.SetWriteDeadline(time.Now().Add(time.Second)) // best effort
	_, _ = c.Write([]byte(state))                       // best effort
	_ = c.Close()                                       // best effort
}
