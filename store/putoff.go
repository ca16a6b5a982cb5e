package store

import (
	"cmp"
	"context"
	"slices"
	"time"

	"wearround/worker/wear"
)

// What puts work off has a last day, by how pressing that is which it answers. It
// is counted from when that was first for somebody, so that putting it off again
// and again gains nothing; the next weekday is always left.
// The numbers are proposals, as the tiers' are.
const (
	mostByHand = 5 * 366 // a recall that somebody sets, in days
	mostUrgent = 4       // word that an urgent patient was seen: over a long weekend
	mostOut    = 183     // from the day a sensor is put on to its file
	weekendAdd = 2       // a proposed date that falls on a weekend
)

// Within gives in how many days what follows an outcome must be back at the
// latest, on a wear of a tier: where it is for today or this week, by the date
// that is proposed.
func (r *Rule) Within(tier wear.Tier) int {
	if tier != wear.Today && tier != wear.ThisWeek {
		return r.Most
	}
	if r.Days == 0 {
		return min(r.Most, r.Soon)
	}
	return min(r.Most, r.Days+weekendAdd)
}

// mostOf is the furthest that a recall of a kind which somebody sets lies.
func mostOf(kind RecallKind) int {
	if kind == RecallUrgent {
		return mostUrgent
	}
	return mostByHand
}

// clock is now on the practice's clock.
func (t *tx) clock() time.Time { return time.Unix(t.now, 0).In(t.by.Zone) }

// last is the last day for what may be put off so many days from a moment.
func (t *tx) last(from int64, days int) time.Time {
	next := 1 // to the next weekday
	switch t.clock().Weekday() {
	case time.Friday:
		next = 3
	case time.Saturday:
		next = 2
	}
	return time.Unix(max(t.days(from, days), t.days(t.now, next)), 0).In(t.by.Zone)
}

// dated refuses a day that has passed or is more than so many days after a
// moment; what is what the day is for, and why is why no later.
func (t *tx) dated(day time.Time, from int64, days int, what, why string) error {
	last := t.last(from, days)
	switch n := wear.DayNumber(day.In(t.by.Zone)); {
	case day.Unix() < t.now-daySeconds:
		return invalid("The date to %s must not have passed.", what)
	case n > wear.DayNumber(last):
		if first := time.Unix(from, 0).In(t.by.Zone); wear.DayNumber(first) < wear.DayNumber(t.clock()) {
			why += ", counted from " + first.Format("2 January 2006") + ", however often it was put off"
		}
		return invalid("The date to %s is too far away: give one until %s, %s.", what, last.Format("Monday 2 January 2006"), why)
	}
	return nil
}

// firstDue is the day on which a recall was due before anybody moved it.
func (t *tx) firstDue(ctx context.Context, id int64) (at int64, err error) {
	err = t.QueryRowContext(ctx, `SELECT coalesce((SELECT was ->> '$[3]' FROM past WHERE kind = 'recalls' AND row = ?1 AND was IS NOT NULL ORDER BY at LIMIT 1), due_at)
		FROM recalls WHERE id = ?1`, id).Scan(&at)
	return at, err
}

// firstSaid is when an outcome, or the first of those that it corrects and that
// say the same, was recorded; now where there is none.
func (t *tx) firstSaid(ctx context.Context, outcomeID int64, kind OutcomeKind) (at int64, err error) {
	err = t.QueryRowContext(ctx, `WITH RECURSIVE chain (id) AS (SELECT ?1 UNION SELECT corrects FROM outcomes JOIN chain USING (id) WHERE corrects IS NOT NULL)
		SELECT coalesce(min(made_at), ?3) FROM outcomes WHERE id IN (SELECT id FROM chain) AND kind = ?2`, outcomeID, kind, t.now).Scan(&at)
	return at, err
}

// pressing is how pressing that is which a recall answers: the result that it is
// about, or the wear as it was when its outcome set it.
func (t *tx) pressing(ctx context.Context, r Recall) (tier wear.Tier, err error) {
	switch {
	case r.AboutResult != 0:
		rows, err := t.QueryContext(ctx, "SELECT "+resultColumns+" WHERE results.id = ?", r.AboutResult)
		list, err := collect(rows, err, scanResult)
		for _, x := range list {
			tier, _ = x.Pressing()
		}
		return cmp.Or(tier, wear.ThisWeek), err
	case r.Kind == RecallUrgent:
		return wear.Today, nil
	case r.OutcomeID != 0:
		err = t.QueryRowContext(ctx, "SELECT tier FROM outcomes WHERE id = ?", r.OutcomeID).Scan(&tier)
		return tier, err
	}
	return wear.Routine, nil
}

// mayMove refuses a new date of a recall that nobody may give it: what a
// clinician decides a clinician puts off.
func (t *tx) mayMove(ctx context.Context, r Recall, due time.Time) error {
	const what = "come back"
	tier, err := t.pressing(ctx, r)
	if err != nil {
		return err
	}
	if r.Kind == RecallDecide {
		if !slices.Contains(clinicians, t.actor.Role) {
			return forbidden("A clinician decides on a result, and when. Leave it on the list for one.")
		}
		return t.dated(due, r.MadeAt.Unix(), max(1, t.by.Protocol.Due.Days(tier)), what, "because the result is for “"+tier.Words()+"”")
	}
	if r.Kind == RecallOut {
		return t.dated(due, r.GivenAt.Unix(), mostOut, what, "half a year after the sensor was put on")
	}
	if r.OutcomeID == 0 {
		return t.dated(due, r.MadeAt.Unix(), mostOf(r.Kind), what, "or set another recall then")
	}
	var kind OutcomeKind
	if err := t.QueryRowContext(ctx, "SELECT kind FROM outcomes WHERE id = ?", r.OutcomeID).Scan(&kind); err != nil {
		return err
	}
	rule, _ := RuleOf(kind)
	said, err := t.firstSaid(ctx, r.OutcomeID, kind)
	if err != nil {
		return err
	}
	return t.dated(due, said, rule.Within(tier), what, "because the wear was for “"+tier.Words()+"”")
}

// mayTry refuses a date to try again about a recall that is later than what it
// answers allows.
func (t *tx) mayTry(ctx context.Context, r Recall, next time.Time) error {
	if next.IsZero() {
		return nil
	}
	tier, err := t.pressing(ctx, r)
	if err != nil {
		return err
	}
	due, err := t.firstDue(ctx, r.ID)
	if err != nil {
		return err
	}
	return t.dated(next, min(due, t.now), max(1, t.by.Protocol.Due.Days(tier)), "try again", "because this is for “"+tier.Words()+"”")
}
