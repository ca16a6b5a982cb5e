package worker

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// check holds the practice against a plain recount after an act.
func (m *model) check(p *practice, a act) {
	p.Helper()
	for what, query := range faults {
		if lines := p.rows(query); len(lines) > 0 {
			p.Errorf("after %s: %s: %s", a.name, what, strings.Join(lines, "; "))
		}
	}
	m.checkFirst(p, a)
	m.checkPlaces(p, a)
	if m.acts++; m.acts%20 == 0 {
		m.checkReports(p, 25)
	}
}

// checkReports makes the reports of one wear in so many anew.
func (m *model) checkReports(p *practice, oneIn int64) {
	p.Helper()
	for _, line := range p.rows("SELECT id FROM wears WHERE joined_into IS NULL AND id % ?1 = ?2 % ?1", oneIn, m.acts/20) {
		id := p.number("SELECT CAST(? AS INTEGER)", line)
		in, err := p.s.WearInputs(context.Background(), id)
		p.must(err)
		w, err := p.s.Wear(context.Background(), id)
		p.must(err)
		fresh, err := json.Marshal(wear.Analyse(in.Input(p.by.Zone, p.by.Protocol)))
		p.must(err)
		if stored, err := json.Marshal(w.Report); err != nil || string(stored) != string(fresh) {
			p.Errorf("wear %d: its report is not made from what is in force: %v", id, err)
		}
	}
}

// faults are what must never be found, each by a query that finds none.
var faults = map[string]string{
	"joined wears on the round":         "SELECT id FROM wears WHERE open = 1 AND joined_into IS NOT NULL",
	"closed wears that somebody has":    "SELECT id FROM wears WHERE open = 0 AND claimed_by IS NOT NULL",
	"wears of an entry that was merged": "SELECT wears.id FROM wears JOIN patients ON patients.id = patient_id WHERE merged_into IS NOT NULL",
	"results, recalls or open letters of an entry that was merged": `SELECT 'result', r.id FROM results r JOIN patients ON patients.id = patient_id WHERE merged_into IS NOT NULL
		UNION ALL SELECT 'recall', r.id FROM recalls r JOIN patients ON patients.id = patient_id WHERE merged_into IS NOT NULL
		UNION ALL SELECT 'letter', l.id FROM letters l JOIN patients ON patients.id = patient_id WHERE merged_into IS NOT NULL AND sent_at IS NULL AND discarded_at IS NULL`,
	"what people recorded of a wear that was joined": "SELECT o.id FROM outcomes o JOIN wears ON wears.id = wear_id WHERE joined_into IS NOT NULL UNION ALL SELECT o.id FROM added_events o JOIN wears ON wears.id = wear_id WHERE joined_into IS NOT NULL",
	"open recalls of outcomes that do not stand":     "SELECT r.id FROM recalls r JOIN outcomes o ON o.id = outcome_id WHERE closed_at IS NULL AND NOT (" + inForce + ")",
	"decisions on results that were taken back":      "SELECT r.id FROM recalls r JOIN results ON results.id = about_result WHERE closed_at IS NULL AND withdrawn_at IS NOT NULL",
	"decisions on another patient's result":          "SELECT r.id FROM recalls r JOIN results ON results.id = about_result WHERE r.patient_id <> results.patient_id",
	"results that are not normal and that nobody has to decide on or has": `SELECT id FROM results WHERE withdrawn_at IS NULL AND class <> 'normal'
		AND NOT EXISTS (SELECT * FROM recalls WHERE about_result = results.id AND (closed_at IS NULL OR closed_by <> 0))`,
	"outcomes on evidence that was never judged":   "SELECT id FROM outcomes o WHERE NOT EXISTS (SELECT * FROM judgements WHERE wear_id = o.wear_id AND evidence = o.evidence)",
	"nurses who told that all is well over a flag": "SELECT id FROM outcomes WHERE kind = 'told_well' AND role = 'nurse' AND flags <> '[]'",
	"files that brought a wear to nobody":          "SELECT id FROM files WHERE state = 'filed' AND NOT EXISTS (SELECT * FROM file_wears WHERE file_id = files.id)",
}

// checkFirst counts the first tier of each wear anew: what the engine says of it
// when it is first there, and for wears that were joined that of the earliest.
func (m *model) checkFirst(p *practice, a act) {
	p.Helper()
	type wearRow struct {
		id, received int64
		into         string
		first        wear.Tier
	}
	rows, err := p.db.Query("SELECT id, received_at, coalesce(joined_into, ''), first_tier FROM wears ORDER BY id")
	p.must(err)
	var list []wearRow
	for rows.Next() {
		var w wearRow
		p.must(rows.Scan(&w.id, &w.received, &w.into, &w.first))
		list = append(list, w)
	}
	p.must(rows.Close())
	for _, w := range list {
		if _, known := m.first[w.id]; known || w.into != "" {
			continue
		}
		in, err := p.s.WearInputs(context.Background(), w.id)
		p.must(err)
		m.first[w.id], m.at[w.id] = wear.Analyse(in.Input(p.by.Zone, p.by.Protocol)).Priority.Tier, w.received
	}
	for _, w := range list {
		if w.into == "" && w.received == m.at[w.id] && w.first != m.first[w.id] {
			p.Errorf("after %s: wear %d was first %s, and it says %s", a.name, w.id, m.first[w.id], w.first)
		}
	}
}

// checkPlaces counts anew where each wear stands, and by when it is due.
func (m *model) checkPlaces(p *practice, a act) {
	p.Helper()
	type place struct {
		id, patient, received, readings, due, last int64
		open                                       bool
		tier                                       wear.Tier
		flags                                      []string
		outcome                                    int64
		outTier                                    wear.Tier
		outFlags                                   []string
		outReadings                                int64
		dueDays                                    int
	}
	rows, err := p.db.Query(`SELECT wears.id, patient_id, received_at, wears.readings, wears.due_at, last_at, open, wears.tier,
			coalesce((SELECT json_group_array(code) FROM wear_flags WHERE wear_id = wears.id), '[]'),
			coalesce(o.id, 0), coalesce(o.tier, ''), coalesce(o.flags, '[]'), coalesce(o.readings, 0), ledger ->> '$.due_days'
		FROM wears JOIN reports r ON r.wear_id = wears.id LEFT JOIN outcomes o ON o.id = (SELECT max(id) FROM outcomes o WHERE o.wear_id = wears.id AND ` + inForce + `)
		WHERE joined_into IS NULL`)
	p.must(err)
	var list []place
	for rows.Next() {
		var w place
		var flags, outFlags string
		p.must(rows.Scan(&w.id, &w.patient, &w.received, &w.readings, &w.due, &w.last, &w.open, &w.tier, &flags, &w.outcome, &w.outTier, &outFlags, &w.outReadings, &w.dueDays))
		p.must(json.Unmarshal([]byte(flags), &w.flags))
		p.must(json.Unmarshal([]byte(outFlags), &w.outFlags))
		list = append(list, w)
	}
	p.must(rows.Close())
	stands := map[int64]bool{} // patients with a wear on the round
	for _, w := range list {
		stands[w.patient] = stands[w.patient] || w.open
	}
	for _, w := range list {
		if w.outcome == 0 {
			if !w.open {
				p.Errorf("after %s: wear %d has no outcome and is off the round", a.name, w.id)
			}
			if due := time.Unix(w.received, 0).In(p.by.Zone).AddDate(0, 0, w.dueDays).Unix(); w.due != due {
				p.Errorf("after %s: wear %d is due %s, not %s", a.name, w.id, time.Unix(w.due, 0), time.Unix(due, 0))
			}
		}
		risen := w.outcome != 0 && (w.tier.Rank() < w.outTier.Rank() || slices.ContainsFunc(w.flags, func(f string) bool { return !slices.Contains(w.outFlags, f) }) || w.readings > w.outReadings)
		switch {
		case a.name == "protocol" && !w.open && risen:
			m.excused[w.id] = true
		case !risen || w.open:
			delete(m.excused, w.id)
		case !m.excused[w.id] && !stands[w.patient]:
			p.Errorf("after %s: wear %d (%s %v) has outcome %d on %s %v and is on no list", a.name, w.id, w.tier, w.flags, w.outcome, w.outTier, w.outFlags)
		}
		if was, known := m.open[w.id]; known && !was && w.open && w.outcome != 0 && !risen &&
			p.number(`SELECT (SELECT count(*) FROM reopenings WHERE wear_id = ?1 AND outcome_id = ?2)
				+ (SELECT count(*) FROM moves WHERE wear_id = ?1 AND undone_at IS NULL)`, w.id, w.outcome) == 0 {
			p.Errorf("after %s: wear %d came back without a reason", a.name, w.id)
		}
		about := a.wears == nil && a.patients == nil || slices.Contains(a.wears, w.id) || slices.Contains(a.patients, w.patient)
		if was, known := m.open[w.id]; known && !was && w.open && !about {
			p.Errorf("after %s, which is not about it: wear %d came back", a.name, w.id)
		}
		m.open[w.id] = w.open
	}
}

func (p *practice) judgeBy() {
	p.must(p.s.JudgeBy(p.by))
}
