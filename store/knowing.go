package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"maps"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// known is what an entry says of its person that wears are judged by, under the
// names of its JSON. What is no, or not known, is not there.
type known map[string]any

// The entries of known that are no yes or no.
const (
	bornOn   = "birth_date"
	bornYear = "birth_year"
	askedOn  = "asked_on"
)

func knownOf(p Patient) (known, error) {
	k := known{}
	all, err := json.Marshal(p.Context)
	if err == nil {
		err = json.Unmarshal(all, &k)
	}
	if p.BirthDate != "" {
		k[bornOn] = p.BirthDate
	}
	return k, err
}

// onto puts it in the place of what an entry says.
func (k known) onto(p Patient) (Patient, error) {
	p.BirthDate, _ = k[bornOn].(string)
	all, err := json.Marshal(k)
	p.Context = wear.Context{}
	return p, errors.Join(err, json.Unmarshal(all, &p.Context))
}

// with gives what two entries of one person know together, which is never less
// than either: what one says holds, whatever the other leaves out. They count as
// asked only where both were, since the earlier day: what one left unasked may
// be what the other would have said.
func (k known) with(o known) (known, error) {
	both := maps.Clone(k)
	for name, v := range o {
		has, there := both[name]
		switch {
		case name == askedOn:
		case !there:
			both[name] = v
		case has != v:
			return nil, differ(name)
		}
	}
	mine, _ := k[askedOn].(string)
	theirs, _ := o[askedOn].(string)
	if both[askedOn] = min(mine, theirs); both[askedOn] == "" {
		delete(both, askedOn)
	}
	date, dated := both[bornOn].(string)
	if year, ok := both[bornYear].(float64); dated && ok && !strings.HasPrefix(date, strconv.Itoa(int(year))) {
		return nil, differ(bornYear)
	}
	return both, nil
}

func differ(name string) error {
	return conflict("The two entries do not have the same %s. Find out which is right and correct the other, or they are two people.", strings.ReplaceAll(name, "_", " "))
}

// without takes back what a merge brought: where k still says what the merge
// made of it, it says again what it said before. What was changed since stays.
func (k known) without(merged, before known) known {
	out := maps.Clone(k)
	for name := range merged {
		if out[name] == merged[name] {
			delete(out, name)
			if was, there := before[name]; there {
				out[name] = was
			}
		}
	}
	for name, was := range before {
		if _, there := merged[name]; !there && out[name] == nil {
			out[name] = was // the day asked, which the merge took away
		}
	}
	return out
}

// Together gives what the entry of kept says after dropped was merged into it.
// It is a [Conflict] where the two contradict each other.
func Together(kept, dropped Patient) (Patient, error) {
	a, err1 := knownOf(kept)
	b, err2 := knownOf(dropped)
	if err := errors.Join(err1, err2); err != nil {
		return kept, err
	}
	both, err := a.with(b)
	if err != nil {
		return kept, err
	}
	return both.onto(kept)
}

// know has the entry of kept know what both know, and gives what it knew.
func (t *tx) know(ctx context.Context, kept, dropped int64) (knew string, err error) {
	a, err1 := readPatient(ctx, t.Tx, kept)
	b, err2 := readPatient(ctx, t.Tx, dropped)
	if err := errors.Join(err1, err2); err != nil {
		return "", err
	}
	both, err := Together(a, b)
	if err != nil {
		return "", err
	}
	before, err := knownOf(a)
	if err != nil {
		return "", err
	}
	if knew, err = text(before); err != nil {
		return "", err
	}
	return knew, t.saveKnown(ctx, both)
}

// unknow gives the entry that was kept what it knew before the merge. Merges of
// earlier releases brought nothing.
func (t *tx) unknow(ctx context.Context, m Merge) error {
	var knew sql.NullString
	var before known
	if err := t.QueryRowContext(ctx, "SELECT knew FROM merges WHERE id = ?", m.ID).Scan(&knew); err != nil || !knew.Valid {
		return err
	}
	a, err1 := readPatient(ctx, t.Tx, m.Kept)
	b, err2 := readPatient(ctx, t.Tx, m.Dropped)
	err := errors.Join(json.Unmarshal([]byte(knew.String), &before), err1, err2)
	if err != nil {
		return err
	}
	now, err1 := knownOf(a)
	theirs, err2 := knownOf(b)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	merged, err := before.with(theirs)
	if err != nil {
		return err
	}
	if a, err = now.without(merged, before).onto(a); err != nil {
		return err
	}
	return t.saveKnown(ctx, a)
}

func (t *tx) saveKnown(ctx context.Context, p Patient) error {
	all, err := text(p.Context)
	if err != nil {
		return err
	}
	_, err = t.ExecContext(ctx, "UPDATE patients SET birth_date = ?, context = ?, changed = ? WHERE id = ?", p.BirthDate, all, t.version, p.ID)
	return err
}
