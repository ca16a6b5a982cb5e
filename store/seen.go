package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"wearround/worker/wear"
)

// seen refuses an act on a wear whose evidence is not what was on the screen,
// and says what is different. 0 stands for no screen and is refused where it
// must have been looked at.
func (t *tx) seen(ctx context.Context, wearID, seen int64, must bool) error {
	if seen == 0 && !must {
		return nil
	}
	// What another protocol or engine made is not what is in force.
	if err := t.judgeAnew(ctx, wearID, nil); err != nil {
		return err
	}
	var now judged
	if err := now.scan(t.QueryRowContext(ctx, `SELECT evidence, tier, ledger ->> '$.headline', (SELECT json_group_array(code ORDER BY place) FROM wear_flags WHERE wear_id = wears.id)
		FROM wears JOIN reports ON wear_id = id WHERE id = ?`, wearID)); err != nil {
		return err
	}
	if now.evidence == seen {
		return nil
	}
	var was judged
	err := was.scan(t.QueryRowContext(ctx, "SELECT evidence, tier, headline, flags FROM judgements WHERE wear_id = ? AND evidence = ? ORDER BY id DESC LIMIT 1", wearID, seen))
	if errors.Is(err, sql.ErrNoRows) {
		return conflict("What was looked at is not this wear as it is on record. It says now, under “%s”: %s Look at it, then decide.", now.tier.Words(), now.headline)
	}
	if err != nil {
		return err
	}
	return &Error{Code: Conflict, cause: &MovedError{wearID}, Public: "The wear has changed since you opened it. " + difference(was, now) + " Look at what it says now, then decide."}
}

// MovedError says that a wear's evidence changed since it was looked at; it is
// the cause of a [Conflict]. Its text is for the log.
type MovedError struct{ WearID int64 }

// Error is the text for the log.
func (e *MovedError) Error() string {
	return fmt.Sprintf("the evidence of wear %d has changed", e.WearID)
}

// judged is one judgement in short.
type judged struct {
	evidence int64
	tier     wear.Tier
	headline string
	flags    []string
}

func (j *judged) scan(row *sql.Row) error {
	return row.Scan(&j.evidence, &j.tier, &j.headline, into(&j.flags))
}

// difference says in words what changed from one judgement to another.
func difference(was, now judged) string {
	var parts []string
	if was.tier != now.tier {
		parts = append(parts, fmt.Sprintf("It was “%s” and is “%s”.", was.tier.Words(), now.tier.Words()))
	}
	if was.headline != now.headline {
		parts = append(parts, fmt.Sprintf("It said: %s It says now: %s", was.headline, now.headline))
	}
	if len(parts) == 0 {
		parts = append(parts, "Something was added or taken back that changes neither its place nor its headline.")
	}
	return strings.Join(parts, " ")
}
