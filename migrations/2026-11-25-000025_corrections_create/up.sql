CREATE TABLE corrections_correction (
    laboratory_id integer NOT NULL,
    correction_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    subject_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, correction_id),
    CONSTRAINT corrections_correction_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
CREATE INDEX corrections_correction_subject_idx ON corrections_correction (laboratory_id, subject_id);
COMMENT ON TABLE corrections_correction IS 'Corrections of recorded things.';
COMMENT ON COLUMN corrections_correction.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN corrections_correction.correction_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN corrections_correction.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN corrections_correction.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN corrections_correction.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN corrections_correction.subject_id IS 'What was corrected.';
COMMENT ON COLUMN corrections_correction.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN corrections_correction.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE corrections_correction ENABLE ROW LEVEL SECURITY;
CREATE POLICY corrections_correction_tenant ON corrections_correction TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON corrections_correction TO assize_service;
