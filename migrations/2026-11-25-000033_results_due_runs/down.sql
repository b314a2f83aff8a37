DELETE FROM results_recomputation WHERE run_id IS NOT NULL;
DROP INDEX results_recomputation_run_id_idx;
ALTER TABLE results_recomputation DROP CONSTRAINT results_recomputation_one_check;
ALTER TABLE results_recomputation DROP CONSTRAINT results_recomputation_run_id_fkey;
ALTER TABLE results_recomputation DROP COLUMN run_id;
ALTER TABLE results_recomputation ALTER COLUMN sample_id SET NOT NULL;
COMMENT ON TABLE results_recomputation IS 'Samples whose results wait to be computed again.';
