package monitor

import "sync"

// followers are those who are told of changes.
type followers struct {
	mu   sync.Mutex
	each map[chan Change]bool
}

// mostUnread is how many changes wait for a follower. One who is slower than that misses some, and nobody waits for it.
const mostUnread = 64

// Follow tells of every change until stop is called, which closes the channel.
func (w *Watch) Follow() (changes <-chan Change, stop func()) {
	c := make(chan Change, mostUnread)
	f := &w.followers
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.each == nil {
		f.each = map[chan Change]bool{}
	}
	f.each[c] = true
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		if f.each[c] {
			delete(f.each, c)
			close(c)
		}
	}
}

// tell hands a change to all who follow.
func (f *followers) tell(c Change) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for to := range f.each {
		select {
		case to <- c:
		default: // it looks again at its next event; what it shows is read from the store
		}
	}
}
