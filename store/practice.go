package store

import (
	"context"
	"encoding/json"
	"strings"
	"unicode/utf8"
)

// Practice is what the practice says of itself, on its letters above all.
type Practice struct {
	Name      string `json:"name"`
	Address   string `json:"address"`    // postal, several lines
	Telephone string `json:"telephone"`  // that patients ring
	Emergency string `json:"emergency"`  // number for emergency care
	AlarmLow  string `json:"alarm_low"`  // of the start sheet, in words with the unit; "" is the one that ships
	AlarmHigh string `json:"alarm_high"` // likewise
}

const practiceSetting = "practice"

// Practice gives what was set; the zero Practice where nothing was.
func (s *Store) Practice(ctx context.Context) (p Practice, err error) {
	text, set, err := s.Setting(ctx, practiceSetting)
	if err != nil || !set {
		return p, err
	}
	return p, fail("read the practice's settings", json.Unmarshal([]byte(text), &p))
}

// SetPractice saves what the practice says of itself. Leads only.
func (s *Store) SetPractice(ctx context.Context, a Actor, p Practice) error {
	for _, f := range []*string{&p.Name, &p.Address, &p.Telephone, &p.Emergency, &p.AlarmLow, &p.AlarmHigh} {
		if *f = strings.TrimSpace(*f); utf8.RuneCountInString(*f) > 400 {
			return invalid("This is longer than a letter has room for. Shorten it.")
		}
	}
	return s.act(ctx, a, leads, "set the practice", onData, func(t *tx) error {
		value, err := text(p)
		if err != nil {
			return err
		}
		if err := t.bump(ctx); err != nil {
			return err
		}
		if err := t.set(ctx, practiceSetting, value); err != nil {
			return err
		}
		return t.log(ctx, onData, "")
	})
}

// set saves a setting.
func (t *tx) set(ctx context.Context, name, value string) error {
	_, err := t.ExecContext(ctx, `INSERT INTO settings (name, value, set_at, changed) VALUES (?, ?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET value = excluded.value, set_at = excluded.set_at, changed = excluded.changed`, name, value, t.now, t.version)
	return err
}

// RecordSent logs that somebody sent a file in, which goes its way from the
// watched folder.
func (s *Store) RecordSent(ctx context.Context, a Actor) error {
	return s.act(ctx, a, staff, "send a file in", onData, func(t *tx) error { return t.log(ctx, onData, "") })
}
