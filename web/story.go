package web

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"html/template"
	"strings"
)

// The story is what a wear's page says of the wear itself: by far the most of
// the page, and the same whoever looks and whenever. So it is made once and kept
// by all that it hangs on.

// StoryKey is a hash of all that a story hangs on.
type StoryKey [sha256.Size]byte

// told is the page without what its story has nothing to do with: who looks,
// when, and what may be done. A story is made from no more than this.
func (p WearPage) told() WearPage {
	p.Layout = Layout{Zone: p.Zone, Home: p.Home}
	if p.Work != nil {
		p.Work = &Work{Claim: Claim{Mine: p.Work.Claim.Mine}, Answered: p.Work.Answered}
	}
	return p
}

// storyKey names by the version of the evidence what that is made from; of the
// rest it takes in whatever there is, so no field can be forgotten.
func (p WearPage) storyKey() (key StoryKey, err error) {
	p = p.told()
	names := []any{fmt.Sprint(p.Zone), fmt.Sprint(p.Home), p.Report.Around}
	p.Zone, p.Home, p.Report, p.Readings, p.Events = nil, nil, nil, nil, nil
	besides := make([]Beside, len(p.Beside))
	for i, b := range p.Beside {
		b.Report, b.Readings = nil, nil // as b.Evidence says
		besides[i] = b
	}
	p.Beside = besides
	h := sha256.New()
	err = json.NewEncoder(h).Encode(append(names, p))
	h.Sum(key[:0])
	return key, err
}

// Story is the markup.
func (p WearPage) Story() (template.HTML, error) {
	draw := func() (template.HTML, error) {
		q := p.told()
		if err := q.read(); err != nil {
			return "", err
		}
		var b strings.Builder
		err := views["wear"]().ExecuteTemplate(&b, "story", q)
		return template.HTML(b.String()), err
	}
	if p.Keep == nil || p.Evidence == 0 {
		return draw()
	}
	key, err := p.storyKey()
	if err != nil {
		return "", err
	}
	return p.Keep(key, draw)
}

// read has the readings there that were left until they are needed.
func (p *WearPage) read() (err error) {
	if p.Read != nil {
		p.Readings, p.Events, err = p.Read()
	}
	return err
}
