-- Which recall a result answers is asked for each result that is shown.
CREATE INDEX recalls_result ON recalls (result_id) WHERE result_id IS NOT NULL;
