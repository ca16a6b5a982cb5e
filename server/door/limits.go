package door

import (
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// How often a token may ask: twenty times a second for long, three hundred at
// once. A proposal: a program that brings a register or a year's results needs
// no more.
const (
	tokenRate  = 20
	tokenBurst = 300
)

// limits hold how often each token asks. Their number is that of tokens that
// are good.
type limits struct {
	mu   sync.Mutex
	list map[int64]*rate.Limiter
}

// wait gives how long a token must wait before it asks again, 0 where it need
// not.
func (l *limits) wait(token int64, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.list == nil {
		l.list = map[int64]*rate.Limiter{}
	}
	if l.list[token] == nil {
		l.list[token] = rate.NewLimiter(tokenRate, tokenBurst)
	}
	r := l.list[token].ReserveN(now, 1)
	wait := r.DelayFrom(now)
	if wait > 0 {
		r.CancelAt(now)
	}
	return wait
}
