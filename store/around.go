package store

import (
	"context"
	"database/sql"
	"maps"
	"slices"

	"wearround/worker/wear"
)

// awaited are the recalls that deny that all is well with a patient, in words.
var awaited = map[RecallKind]string{
	RecallDecide: "a decision on a result",
	RecallUrgent: "word that the patient was seen",
	RecallResult: "a result of tests that were ordered",
}

// around are expressions over one row of wears, for [scanAround]: what stands
// around a wear as things are now; see [wear.Around].
var around = waitingFor + ", " + besides

// besides are those that need no query before them.
var besides = inDoubt + ", " + refusedFile + ", " + basisOf + ", " + otherWears + ", " + awaitedOf

// refusedFile is an expression over a row of wears: a file that brought readings
// to it was refused since.
const refusedFile = `EXISTS (SELECT * FROM file_wears JOIN files ON files.id = file_id WHERE file_wears.wear_id = wears.id AND state = 'refused')`

const basisOf = "(SELECT basis FROM reports WHERE reports.wear_id = wears.id)"

const otherWears = `(SELECT json_group_array(json_object('tier', o.tier, 'unread', coalesce(l.ledger ->> '$.unread', 0)) ORDER BY o.id)
		FROM wears o JOIN reports l ON l.wear_id = o.id
		WHERE o.patient_id = wears.patient_id AND o.id <> wears.id AND o.open = 1 AND o.joined_into IS NULL
			AND (o.tier <> 'routine' OR EXISTS (SELECT * FROM wear_flags WHERE wear_flags.wear_id = o.id)))`

var awaitedOf = `(SELECT json_group_array(DISTINCT kind ORDER BY kind) FROM recalls
	WHERE recalls.patient_id = wears.patient_id AND closed_at IS NULL AND kind IN ('` + joined(slices.Sorted(maps.Keys(awaited)), "', '") + `'))`

func joined[T ~string](list []T, by string) string {
	var s string
	for i, x := range list {
		if i > 0 {
			s += by
		}
		s += string(x)
	}
	return s
}

// aroundScan takes a row of around, or without waiting one of besides.
type aroundScan struct {
	waiting []int64
	doubt   bool
	refused bool
	basis   int64 // that the report was made by
	others  []wear.OtherWear
	kinds   []RecallKind
}

func (a *aroundScan) besides() []any {
	return []any{&a.doubt, &a.refused, &a.basis, into(&a.others), into(&a.kinds)}
}

func (a *aroundScan) targets() []any { return append([]any{into(&a.waiting)}, a.besides()...) }

// put adds it to a report; by is what is judged by.
func (a *aroundScan) put(r *wear.Report, by *basis) {
	r.Around = wear.Around{Waiting: len(a.waiting), InDoubt: a.doubt, Refused: a.refused, Anew: a.basis != by.hash}
	r.Others = append(r.Others, a.others...)
	for _, k := range a.kinds {
		r.Awaited = append(r.Awaited, awaited[k])
	}
}

// readAround adds to a report what stands around its wear.
func readAround(ctx context.Context, t *sql.Tx, by *basis, wearID int64, r *wear.Report) error {
	var a aroundScan
	err := t.QueryRowContext(ctx, "SELECT "+around+" FROM wears WHERE id = ?", wearID).Scan(a.targets()...)
	a.put(r, by)
	return err
}
