-- A run without a sample waits too: for the kit lot or the reader that it names to be registered.
ALTER TABLE results_recomputation ALTER COLUMN sample_id DROP NOT NULL;
ALTER TABLE results_recomputation ADD COLUMN run_id uuid;
ALTER TABLE results_recomputation ADD CONSTRAINT results_recomputation_run_id_fkey
    FOREIGN KEY (laboratory_id, run_id) REFERENCES runs_run;
ALTER TABLE results_recomputation ADD CONSTRAINT results_recomputation_one_check
    CHECK (num_nonnulls(sample_id, run_id) = 1);
CREATE INDEX results_recomputation_run_id_idx ON results_recomputation (laboratory_id, run_id);
COMMENT ON TABLE results_recomputation IS
    'Samples whose results wait to be computed again, and runs without a sample that wait to be looked at again.';
COMMENT ON COLUMN results_recomputation.run_id IS 'The run without a sample that is to be looked at again.';
