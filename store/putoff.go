package store

import (
	"cmp"
	"context"
	"slices"
	"time"

	"wearround/worker/wear"
)

// What puts work off has a last day, by how pressing that is which it answers.
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

// dated refuses a day that has passed or is more than so many days on; what is
// what the day is for, and why is why no later.
func (t *tx) dated(day time.Time, days int, what, why string) error {
	last := time.Unix(t.days(t.now, days), 0).In(t.by.Zone)
	switch n := wear.DayNumber(day.In(t.by.Zone)); {
	case day.Unix() < t.now-daySeconds:
		return invalid("The date to %s must not have passed.", what)
	case n > wear.DayNumber(last):
		return invalid("The date to %s is too far away: give one until %s, %s.", what, last.Format("Monday 2 January 2006"), why)
	}
	return nil
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
		return t.dated(due, max(1, t.by.Protocol.Due.Days(tier)), what, "because the result is for “"+tier.Words()+"”")
	}
	if r.OutcomeID == 0 {
		return t.dated(due, mostOf(r.Kind), what, "or set another recall then")
	}
	var kind OutcomeKind
	if err := t.QueryRowContext(ctx, "SELECT kind FROM outcomes WHERE id = ?", r.OutcomeID).Scan(&kind); err != nil {
		return err
	}
	rule, _ := RuleOf(kind)
	return t.dated(due, rule.Within(tier), what, "because the wear was for “"+tier.Words()+"”")
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
	return t.dated(next, max(1, t.by.Protocol.Due.Days(tier)), "try again", "because this is for “"+tier.Words()+"”")
}
