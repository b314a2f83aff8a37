CREATE TABLE results_result (
    laboratory_id integer NOT NULL,
    result_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    sample_id uuid NOT NULL,
    analyte text NOT NULL,
    purpose text NOT NULL,
    concentration numeric,
    decision text,
    released_at timestamptz,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, result_id),
    CONSTRAINT results_result_sample_analyte_key UNIQUE (laboratory_id, sample_id, analyte, purpose),
    CONSTRAINT results_result_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample
);
CREATE INDEX results_result_open_idx ON results_result (laboratory_id, state, result_id) WHERE state IN ('needs-a-run', 'held', 'ready', 'returned');
COMMENT ON TABLE results_result IS 'Results: what is reported for one sample and analyte.';
COMMENT ON COLUMN results_result.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN results_result.result_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN results_result.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN results_result.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN results_result.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN results_result.sample_id IS 'The sample.';
COMMENT ON COLUMN results_result.analyte IS 'Analyte slug.';
COMMENT ON COLUMN results_result.purpose IS 'original, retest, reference or appeal.';
COMMENT ON COLUMN results_result.concentration IS 'What is reported, µg/kg, as is; absent where there is no number.';
COMMENT ON COLUMN results_result.decision IS 'The worst decision of all limits that apply; absent where none does.';
COMMENT ON COLUMN results_result.released_at IS 'When it was released.';
COMMENT ON COLUMN results_result.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN results_result.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE results_result ENABLE ROW LEVEL SECURITY;
CREATE POLICY results_result_tenant ON results_result TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON results_result TO assize_service;

CREATE TABLE results_recomputation (
    laboratory_id integer NOT NULL,
    recomputation_id bigint GENERATED ALWAYS AS IDENTITY (CACHE 1),
    sample_id uuid NOT NULL,
    cause_id uuid NOT NULL,
    cause_version integer NOT NULL,
    due_since timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, recomputation_id),
    CONSTRAINT results_recomputation_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample
);
CREATE INDEX results_recomputation_sample_id_idx ON results_recomputation (laboratory_id, sample_id);
COMMENT ON TABLE results_recomputation IS 'Samples whose results wait to be computed again.';
COMMENT ON COLUMN results_recomputation.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN results_recomputation.recomputation_id IS 'Order of work.';
COMMENT ON COLUMN results_recomputation.sample_id IS 'The sample whose results are to be computed again.';
COMMENT ON COLUMN results_recomputation.cause_id IS 'Subject whose change asks for it.';
COMMENT ON COLUMN results_recomputation.cause_version IS 'Version of that subject.';
COMMENT ON COLUMN results_recomputation.due_since IS 'When it was asked for.';
ALTER TABLE results_recomputation ENABLE ROW LEVEL SECURITY;
CREATE POLICY results_recomputation_tenant ON results_recomputation TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
-- Whoever takes a row off the list locks it first, for which PostgreSQL asks UPDATE.
GRANT SELECT, INSERT, UPDATE, DELETE ON results_recomputation TO assize_service;
-- What waits is looked for in all laboratories at once; the work itself is done in each.
CREATE POLICY results_recomputation_jobs ON results_recomputation FOR SELECT
    TO assize_jobs USING (true);
GRANT SELECT ON results_recomputation TO assize_jobs;
