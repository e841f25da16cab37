// Package memo keeps the answers of pure functions that are asked the same again and again.
package memo

import "sync"

// Memo keeps answers by question, up to a number of them: what comes later is worked out each time. The zero value keeps nothing;
// it may be used by many goroutines at once.
type Memo[K comparable, V any] struct {
	mu   sync.RWMutex
	kept map[K]V
	most int
}

// New makes a memo for up to so many answers.
func New[K comparable, V any](most int) *Memo[K, V] {
	return &Memo[K, V]{kept: map[K]V{}, most: most}
}

// Of gives the answer to a question: the kept one, else what answer gives. Answers are shared, so that nobody may change them.
func (m *Memo[K, V]) Of(question K, answer func(K) V) V {
	m.mu.RLock()
	v, ok := m.kept[question]
	m.mu.RUnlock()
	if ok {
		return v
	}
	v = answer(question)
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.kept) < m.most {
		m.kept[question] = v
	}
	return v
}
