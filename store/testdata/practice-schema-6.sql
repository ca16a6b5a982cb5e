-- A small invented practice as the release with schema 6 left it: reports that
-- knew of no result on record when they were first made, and no history of
-- judgements. The readings stand in plain_readings; what packs them is in
-- store/export_test.go.

INSERT INTO users (id, login, name, roles, password, password_at, temporary, created_at) VALUES
  (1, 'rilo', 'Rilo Menas', '["nurse"]', '$invented$', 1767225600, 0, 1767225600),
  (2, 'dosu', 'Dosu Karel', '["clinician","lead"]', '$invented$', 1767225600, 0, 1767225600);

INSERT INTO patients (id, code, name, birth_date, context, changed) VALUES
  (1, 'P-0001', 'Barin Tave', '1961-03-04', '{"birth_year":1961,"asked_on":"2026-01-05"}', 1),
  (2, 'P-0002', 'Domel Sura', '1958-11-20', '{"birth_year":1958,"asked_on":"2026-01-05"}', 1),
  (3, 'P-0003', 'Kilen Rovi', '1970-07-01', '{"birth_year":1970,"asked_on":"2026-01-05"}', 1),
  (4, 'P-0004', 'Lurin Pizo', '1966-01-30', '{"birth_year":1966,"asked_on":"2026-01-05"}', 1);

INSERT INTO files (id, sha256, size, received_at, state, layout, questions, decisions, patient_id, rows, skipped) VALUES
  (1, printf('%064d', 1), 20000, 1769040000, 'filed', 'time,glucose', '[]', '[]', 1, 1344, 0),
  (2, printf('%064d', 2), 20000, 1769126400, 'filed', 'time,glucose', '[]', '[]', 2, 1344, 0),
  (3, printf('%064d', 3), 20000, 1769212800, 'filed', 'time,glucose', '[]', '[]', 3, 1344, 0),
  (4, printf('%064d', 4), 20000, 1769299200, 'filed', 'time,glucose', '[]', '[]', 4, 1344, 0);
INSERT INTO drops (path, size, mod_ns, seen_at, outcome, code, reason, to_do, file_id)
  SELECT 'P-000' || id || '_a.csv', size, 1, received_at, 'filed', '', '', '', id FROM files;

-- 14 days from 6 January 2026, every 15 minutes, in tenths of mmol/L. The third
-- wearer is above 7.8 from noon to eight in the evening.
CREATE TEMP TABLE plain_readings (wear_id INTEGER, at INTEGER, tenths INTEGER);
WITH RECURSIVE step (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM step WHERE i < 1343)
INSERT INTO plain_readings SELECT wear, 1767657600 + i * 900, 51 + (i * 7 + wear * 3) % 9 + iif(wear = 3 AND i % 96 BETWEEN 48 AND 79, 33, 0)
  FROM step, (SELECT 1 wear UNION SELECT 2 UNION SELECT 3 UNION SELECT 4);

INSERT INTO wears (id, patient_id, sensor_kind, first_at, last_at, readings, received_at, due_at, open, tier, score, changed, first_tier)
  SELECT wear_id, wear_id, 'A', min(at), max(at), count(*), 1768953600 + wear_id * 86400, 1768953600 + wear_id * 86400 + 28 * 86400,
    wear_id = 4, iif(wear_id IN (2, 3), 'this_month', 'routine'), 0, 1, iif(wear_id = 3, 'this_month', 'routine') FROM plain_readings GROUP BY wear_id;
INSERT INTO file_wears SELECT id, id, 1344, 0, 0 FROM files;
INSERT INTO wear_flags VALUES (2, 0, 'risk_on_record', 'this_month'), (3, 0, 'above_7_8_persistent', 'this_month');

-- On record before the second wear came, and not known to its first report.
INSERT INTO results (id, patient_id, kind, value, unit, taken_at, criteria, class, note, made_by, made_at) VALUES
  (1, 2, 'hba1c', '52', 'mmol/mol', 1767225600, 'ada', 'diabetes', '', 2, 1767312000);

INSERT INTO outcomes (id, wear_id, kind, reason, made_by, role, made_at, tier, flags) VALUES
  (1, 1, 'told_well', '', 1, 'nurse', 1769472000, 'routine', '[]'),
  (2, 2, 'appointment', 'HbA1c', 2, 'clinician', 1769475600, 'this_month', '["risk_on_record"]'),
  (3, 3, 'tests_ordered', 'HbA1c', 2, 'clinician', 1769479200, 'this_month', '["above_7_8_persistent"]');
INSERT INTO recalls (patient_id, wear_id, outcome_id, kind, state, due_at, note, made_by, made_at) VALUES
  (2, 2, 2, 'appointment', 'due', 1770000000, 'HbA1c', 2, 1769475600),
  (3, 3, 3, 'result', 'due', 1771200000, 'HbA1c', 2, 1769479200);
