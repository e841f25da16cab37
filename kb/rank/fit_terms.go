package rank

import (
	"strings"
	"sync"

	"ruledout/kb"
)

// remembered is a vocabulary that looks the same thing up once: a fit asks the same questions many times. It is safe for concurrent use.
type remembered struct {
	Terms
	relations memory[[2]string, kb.Relation]
	suspects  memory[string, []kb.Suspect]
}

// Relation tells how a tested component stands to a possible culprit.
func (r *remembered) Relation(tested, culprit string) kb.Relation {
	return r.relations.get([2]string{tested, culprit}, func() kb.Relation { return r.Terms.Relation(tested, culprit) })
}

// Suspects lists the components that the structure alone makes suspicious.
func (r *remembered) Suspects(kind string, codes, symptoms []string) []kb.Suspect {
	key := strings.Join([]string{kind, strings.Join(codes, "\x00"), strings.Join(symptoms, "\x00")}, "\x01")
	return r.suspects.get(key, func() []kb.Suspect { return r.Terms.Suspects(kind, codes, symptoms) })
}

// memory holds what was made for a key.
type memory[K comparable, V any] struct {
	mu   sync.RWMutex
	made map[K]V
}

func (m *memory[K, V]) get(key K, find func() V) V {
	m.mu.RLock()
	v, ok := m.made[key]
	m.mu.RUnlock()
	if ok {
		return v
	}
	v = find()
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.made == nil {
		m.made = map[K]V{}
	}
	m.made[key] = v
	return v
}
