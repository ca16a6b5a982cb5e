-- How what an audit counts stood at a time that is over: before each change of
-- a row that it counts, what the columns held that it reads. Of two changes in
-- one second the first is kept, so what stands here held until that second.

-- When the transaction under way began, for the triggers below.
ALTER TABLE data_version ADD COLUMN at INTEGER NOT NULL DEFAULT 0;

CREATE TABLE past (
  kind       TEXT NOT NULL,                 -- a table,
  row        INTEGER NOT NULL,              -- and its row
  at         INTEGER NOT NULL,              -- of the change
  was        TEXT,                          -- JSON: the columns in the order of store/past.go; NULL where it was not there
  wear_id    INTEGER,                       -- what it belongs to
  patient_id INTEGER,
  file_id    INTEGER,
  PRIMARY KEY (kind, row, at)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER wears_were_not AFTER INSERT ON wears BEGIN
  INSERT INTO past (kind, row, at, wear_id) SELECT 'wears', NEW.id, at, NEW.id FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER wears_were AFTER UPDATE OF patient_id, sensor_kind, first_at, received_at, due_at, open, readings, doubted, first_tier, joined_into ON wears
WHEN (OLD.patient_id, OLD.sensor_kind, OLD.first_at, OLD.received_at, OLD.due_at, OLD.open, OLD.readings, OLD.doubted, OLD.first_tier, OLD.joined_into)
  IS NOT (NEW.patient_id, NEW.sensor_kind, NEW.first_at, NEW.received_at, NEW.due_at, NEW.open, NEW.readings, NEW.doubted, NEW.first_tier, NEW.joined_into) BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'wears', OLD.id, at, OLD.id,
    json_array(OLD.patient_id, OLD.sensor_kind, OLD.first_at, OLD.received_at, OLD.due_at, OLD.open, OLD.readings, OLD.doubted, OLD.first_tier, OLD.joined_into) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER files_were_not AFTER INSERT ON files BEGIN
  INSERT INTO past (kind, row, at, file_id) SELECT 'files', NEW.id, at, NEW.id FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER files_were AFTER UPDATE OF received_at, state ON files
WHEN (OLD.received_at, OLD.state) IS NOT (NEW.received_at, NEW.state) BEGIN
  INSERT INTO past (kind, row, at, file_id, was) SELECT 'files', OLD.id, at, OLD.id, json_array(OLD.received_at, OLD.state) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER outcomes_were AFTER UPDATE OF wear_id, undone_at ON outcomes
WHEN (OLD.wear_id, OLD.undone_at) IS NOT (NEW.wear_id, NEW.undone_at) BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'outcomes', OLD.id, at, OLD.wear_id, json_array(OLD.wear_id, OLD.undone_at) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER recalls_were AFTER UPDATE OF patient_id, wear_id, state, due_at, closed_at, result_id, new_wear_id, given_at ON recalls
WHEN (OLD.patient_id, OLD.wear_id, OLD.state, OLD.due_at, OLD.closed_at, OLD.result_id, OLD.new_wear_id, OLD.given_at)
  IS NOT (NEW.patient_id, NEW.wear_id, NEW.state, NEW.due_at, NEW.closed_at, NEW.result_id, NEW.new_wear_id, NEW.given_at) BEGIN
  INSERT INTO past (kind, row, at, patient_id, was) SELECT 'recalls', OLD.id, at, OLD.patient_id,
    json_array(OLD.patient_id, OLD.wear_id, OLD.state, OLD.due_at, OLD.closed_at, OLD.result_id, OLD.new_wear_id, OLD.given_at) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER results_were AFTER UPDATE OF patient_id, wear_id, withdrawn_at ON results
WHEN (OLD.patient_id, OLD.wear_id, OLD.withdrawn_at) IS NOT (NEW.patient_id, NEW.wear_id, NEW.withdrawn_at) BEGIN
  INSERT INTO past (kind, row, at, patient_id, was) SELECT 'results', OLD.id, at, OLD.patient_id,
    json_array(OLD.patient_id, OLD.wear_id, OLD.withdrawn_at) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER letters_were AFTER UPDATE OF wear_id, sent_at, discarded_at ON letters
WHEN (OLD.wear_id, OLD.sent_at, OLD.discarded_at) IS NOT (NEW.wear_id, NEW.sent_at, NEW.discarded_at) BEGIN
  INSERT INTO past (kind, row, at, patient_id, was) SELECT 'letters', OLD.id, at, OLD.patient_id,
    json_array(OLD.wear_id, OLD.sent_at, OLD.discarded_at) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER contacts_were AFTER UPDATE OF wear_id ON contacts WHEN OLD.wear_id IS NOT NEW.wear_id BEGIN
  INSERT INTO past (kind, row, at, patient_id, was) SELECT 'contacts', OLD.id, at, OLD.patient_id, json_array(OLD.wear_id) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER calls_were AFTER UPDATE OF wear_id ON calls WHEN OLD.wear_id IS NOT NEW.wear_id BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'calls', OLD.id, at, OLD.wear_id, json_array(OLD.wear_id) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER judgements_were AFTER UPDATE OF wear_id ON judgements WHEN OLD.wear_id IS NOT NEW.wear_id BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'judgements', OLD.id, at, OLD.wear_id, json_array(OLD.wear_id) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

CREATE TRIGGER patients_were AFTER UPDATE OF birth_date, context ON patients
WHEN (OLD.birth_date, OLD.context) IS NOT (NEW.birth_date, NEW.context) BEGIN
  INSERT INTO past (kind, row, at, patient_id, was) SELECT 'patients', OLD.id, at, OLD.id, json_array(OLD.birth_date, OLD.context) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;

-- Of a report no more than the figures that two wears are compared by. That of
-- a wear that another took in is gone.
CREATE TRIGGER reports_were AFTER UPDATE OF ledger ON reports WHEN OLD.basis <> 0 AND OLD.ledger <> NEW.ledger BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'reports', OLD.wear_id, at, OLD.wear_id,
    json_array(json_object('confidence', OLD.ledger ->> '$.confidence', 'mean_mmol', OLD.ledger -> '$.mean_mmol',
      'above_7_8_pct', OLD.ledger -> '$.above_7_8_pct', 'above_10_pct', OLD.ledger -> '$.above_10_pct')) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER reports_gone AFTER DELETE ON reports BEGIN
  INSERT INTO past (kind, row, at, wear_id, was) SELECT 'reports', OLD.wear_id, at, OLD.wear_id,
    json_array(json_object('confidence', OLD.ledger ->> '$.confidence', 'mean_mmol', OLD.ledger -> '$.mean_mmol',
      'above_7_8_pct', OLD.ledger -> '$.above_7_8_pct', 'above_10_pct', OLD.ledger -> '$.above_10_pct')) FROM data_version WHERE TRUE ON CONFLICT DO NOTHING;
END;
