-- The steps of second factors that were used, each good once. A step is of the
-- clock: a clock that was ahead must not bar the steps before it.
CREATE TABLE factor_steps (
  user_id INTEGER NOT NULL REFERENCES users (id),
  step    INTEGER NOT NULL,
  PRIMARY KEY (user_id, step)
) STRICT, WITHOUT ROWID;
INSERT INTO factor_steps SELECT id, totp_step FROM users WHERE totp_step > 0;
