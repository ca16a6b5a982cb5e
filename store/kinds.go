package store

import (
	"context"
	"database/sql"

	"wearround/worker/wear"
)

// KindMeasures gives of every wear of a sensor kind what [wear.NewNorms] needs:
// the mean, the shares above 7.8 and 10 mmol/L and the coefficient of
// variation. Wears that nothing can be told from are left out, and those whose
// report is older than these measures.
func (s *Store) KindMeasures(ctx context.Context, kind string) ([]wear.Metrics, error) {
	var list []wear.Metrics
	rows, err := s.reader.QueryContext(ctx, `SELECT ledger ->> 'mean_mmol', ledger ->> 'above_7_8_pct', ledger ->> 'above_10_pct', ledger ->> 'cv_pct'
		FROM wears JOIN reports ON wear_id = wears.id WHERE sensor_kind = ? AND joined_into IS NULL AND tier <> ?`, kind, wear.CannotTell)
	err = each(rows, err, func(rows *sql.Rows) error {
		var mean, above7_8, above10, cv sql.Null[float64]
		if err := rows.Scan(&mean, &above7_8, &above10, &cv); err != nil {
			return err
		}
		list = append(list, wear.Metrics{
			MeanMmol: figure(mean), Above7_8Pct: figure(above7_8), Above10Pct: figure(above10), CVPct: figure(cv),
		})
		return nil
	})
	return list, fail("read the measures of a sensor kind", err)
}

func figure(v sql.Null[float64]) wear.Figure { return wear.Figure{V: v.V, OK: v.Valid} }
