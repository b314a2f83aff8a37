CREATE TABLE holds_hold (
    laboratory_id integer NOT NULL,
    hold_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    kind text NOT NULL,
    subject_id uuid NOT NULL,
    sample_id uuid,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, hold_id),
    CONSTRAINT holds_hold_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample
);
CREATE INDEX holds_hold_sample_id_idx ON holds_hold (laboratory_id, sample_id);
CREATE INDEX holds_hold_subject_idx ON holds_hold (laboratory_id, subject_id);
CREATE INDEX holds_hold_raised_idx ON holds_hold (laboratory_id, hold_id) WHERE state = 'raised';
COMMENT ON TABLE holds_hold IS 'Holds: what stands between a result and its release.';
COMMENT ON COLUMN holds_hold.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN holds_hold.hold_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN holds_hold.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN holds_hold.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN holds_hold.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN holds_hold.kind IS 'Kind of hold.';
COMMENT ON COLUMN holds_hold.subject_id IS 'The run or result that it stands on.';
COMMENT ON COLUMN holds_hold.sample_id IS 'The sample, where there is one.';
COMMENT ON COLUMN holds_hold.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN holds_hold.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE holds_hold ENABLE ROW LEVEL SECURITY;
CREATE POLICY holds_hold_tenant ON holds_hold TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON holds_hold TO assize_service;
