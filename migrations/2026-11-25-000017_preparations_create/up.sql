CREATE TABLE preparations_preparation (
    laboratory_id integer NOT NULL,
    preparation_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    kind text NOT NULL,
    sample_id uuid NOT NULL,
    parent_id uuid,
    prepared_at timestamptz NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, preparation_id),
    CONSTRAINT preparations_preparation_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT preparations_preparation_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample,
    CONSTRAINT preparations_preparation_parent_id_fkey FOREIGN KEY (laboratory_id, parent_id) REFERENCES preparations_preparation
);
CREATE INDEX preparations_preparation_sample_id_idx ON preparations_preparation (laboratory_id, sample_id);
CREATE INDEX preparations_preparation_parent_id_idx ON preparations_preparation (laboratory_id, parent_id);
COMMENT ON TABLE preparations_preparation IS 'Ground samples, test portions and extracts.';
COMMENT ON COLUMN preparations_preparation.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN preparations_preparation.preparation_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN preparations_preparation.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN preparations_preparation.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN preparations_preparation.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN preparations_preparation.kind IS 'ground-sample, test-portion or extract.';
COMMENT ON COLUMN preparations_preparation.sample_id IS 'The sample.';
COMMENT ON COLUMN preparations_preparation.parent_id IS 'What it was made from.';
COMMENT ON COLUMN preparations_preparation.prepared_at IS 'When.';
COMMENT ON COLUMN preparations_preparation.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN preparations_preparation.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE preparations_preparation ENABLE ROW LEVEL SECURITY;
CREATE POLICY preparations_preparation_tenant ON preparations_preparation TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON preparations_preparation TO assize_service;
