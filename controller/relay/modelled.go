package relay

import "sync"

// Modelled is a line in memory, for a vessel that is only modelled. It can be told
// to fail. Other goroutines may look at it.
type Modelled struct {
	mu   sync.Mutex
	on   bool
	fail error
}

// Set switches the line, or fails if it was told to; then its level stays.
func (m *Modelled) Set(on bool) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.fail != nil {
		return m.fail
	}
	m.on = on
	return nil
}

// Close does nothing.
func (m *Modelled) Close() error { return nil }

// On tells whether the modelled relay works.
func (m *Modelled) On() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.on
}

// Fail makes every later Set fail with the error, until it is nil again.
func (m *Modelled) Fail(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fail = err
}
