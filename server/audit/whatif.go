package audit

import (
	"slices"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// trials are the counts of what versions would change, by version. They live in
// memory: nothing of them is kept.
type trials struct {
	mu   sync.Mutex
	list map[int64]*trial
}

// trial is one of them. It goes on while somebody looks at it, a stretch at each
// look, and so needs no work of its own beside the requests.
type trial struct {
	mu      sync.Mutex
	made    time.Time      // when the draft that it tries was kept
	version int64          // of the data when it began
	by      *wear.Protocol // in force when it began
	done    bool
	store.Trial
}

const (
	trialStretch = 1500 * time.Millisecond // of work at one look: the page shows how far it is
	trialsMost   = 4
)

// of gives the trial of a version, a new one where none is under way, or where
// the draft or the protocol in force changed, or where one is done and the data
// have changed since.
func (t *trials) of(k *store.KeptProtocol, version int64, by *wear.Protocol) *trial {
	t.mu.Lock()
	defer t.mu.Unlock()
	x := t.list[k.ID]
	if x != nil {
		x.mu.Lock()
		stale := !x.made.Equal(k.At) || x.by != by || x.done && x.version != version
		x.mu.Unlock()
		if !stale {
			return x
		}
	}
	if t.list == nil || len(t.list) >= trialsMost {
		t.list = map[int64]*trial{}
	}
	x = &trial{made: k.At, version: version, by: by}
	t.list[k.ID] = x
	return x
}

// WhatIf goes on with the count of what a version would change, and shows it
// once it is whole.
func (s *Audit) WhatIf(c *gin.Context) (web.Page, error) {
	ctx := c.Request.Context()
	k, err := s.kept(c)
	if err != nil {
		return nil, err
	}
	counts, err := s.Store.Counts(ctx)
	if err != nil {
		return nil, err
	}
	p := web.WhatIfPage{Layout: s.Layout(c), ProtocolVersion: s.version(&k), Of: counts.Wears}
	t := s.trials.of(&k, p.Layout.Version, s.Protocol())
	t.mu.Lock()
	defer t.mu.Unlock()
	const step = 256
	for began := time.Now(); !t.done && time.Since(began) < trialStretch; {
		list, last, err := s.Store.TryProtocol(ctx, k.Protocol, t.Last, step)
		if err != nil {
			return nil, err
		}
		if t.done = last == 0; !t.done {
			t.Last, t.List = last, append(t.List, list...)
		}
	}
	p.Done, p.Of, p.Finished = len(t.List), max(p.Of, len(t.List)), t.done
	if !t.done {
		c.Header("Refresh", "0")
		return p, nil
	}
	w, err := s.Store.SumUp(ctx, k.Protocol, &t.Trial, s.Zone)
	if err != nil {
		return nil, err
	}
	err = s.fill(c, &p, &w)
	return p, err
}

// fill puts what a trial found on the page.
func (s *Audit) fill(c *gin.Context, p *web.WhatIfPage, w *store.WhatIf) error {
	patients, err := s.Store.Patients(c.Request.Context())
	if err != nil {
		return err
	}
	codes := map[int64]string{}
	for _, x := range patients {
		codes[x.ID] = x.Code
	}
	p.Of, p.Failed = w.Wears, w.Failed
	for _, t := range w.Tiers {
		p.Tiers = append(p.Tiers, web.WhatIfTier(t))
	}
	for _, r := range w.Work {
		p.Work = append(p.Work, web.WhatIfWork(r))
	}
	for i, y := range w.Yield {
		p.Yield[i] = web.WhatIfYield(y)
	}
	moved := map[int64]web.WhatIfWear{}
	for _, m := range w.Moved {
		x := web.WhatIfWear{WearID: m.WearID, Code: codes[m.PatientID], Was: m.Was, Now: m.Now, Raised: without(m.NowFlags, m.WasFlags), Gone: without(m.WasFlags, m.NowFlags)}
		p.Moved = append(p.Moved, x)
		moved[m.WearID] = x
	}
	for _, id := range w.Missed {
		p.Missed = append(p.Missed, moved[id])
	}
	// The most pressing, now or then, first.
	slices.SortStableFunc(p.Moved, func(a, b web.WhatIfWear) int {
		return min(a.Was.Rank(), a.Now.Rank()) - min(b.Was.Rank(), b.Now.Rank())
	})
	return nil
}

// without are the codes of a list that another lacks.
func without(list, other []string) []string {
	var out []string
	for _, x := range list {
		if !slices.Contains(other, x) {
			out = append(out, x)
		}
	}
	return out
}
