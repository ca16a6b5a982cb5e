// Package kept keeps what was worked out, by all that it hangs on, up to a bound.
package kept

import (
	"container/list"
	"sync"
)

// By keeps values by their keys. A key must name everything that its value hangs
// on: what is found under a key is never worked out again. Its methods may be
// called from any goroutine.
type By[K comparable, V any] struct {
	most  int
	weigh func(V) int
	mu    sync.Mutex
	at    map[K]*list.Element
	order list.List // of kept entries, the one used last in front
	heavy int       // what all of them weigh
}

type entry[K comparable, V any] struct {
	key   K
	value V
	heavy int
}

// New keeps values that weigh at most so much together; those unused longest go
// first.
func New[K comparable, V any](most int, weigh func(V) int) *By[K, V] {
	return &By[K, V]{most: most, weigh: weigh, at: map[K]*list.Element{}}
}

// One has each value weigh the same.
func One[V any](V) int { return 1 }

// Get gives what is kept under a key, or works it out. Two that ask for the same
// at once may both work it out. An error is not kept.
func (b *By[K, V]) Get(key K, work func() (V, error)) (V, error) {
	if v, ok := b.look(key); ok {
		return v, nil
	}
	v, err := work()
	if err == nil {
		b.put(key, v)
	}
	return v, err
}

func (b *By[K, V]) look(key K) (v V, ok bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	e, ok := b.at[key]
	if !ok {
		return v, false
	}
	b.order.MoveToFront(e)
	return e.Value.(*entry[K, V]).value, true
}

func (b *By[K, V]) put(key K, v V) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if _, ok := b.at[key]; ok {
		return
	}
	e := &entry[K, V]{key, v, b.weigh(v)}
	b.at[key] = b.order.PushFront(e)
	for b.heavy += e.heavy; b.heavy > b.most; {
		last := b.order.Remove(b.order.Back()).(*entry[K, V])
		delete(b.at, last.key)
		b.heavy -= last.heavy
	}
}
