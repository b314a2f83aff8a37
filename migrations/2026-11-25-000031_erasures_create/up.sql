-- What was erased because the law asked for it: digests and members, never a value.
CREATE TABLE erasures_erasure (
    laboratory_id integer NOT NULL,
    erasure_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, erasure_id),
    CONSTRAINT erasures_erasure_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE erasures_erasure IS 'Erasures.';
COMMENT ON COLUMN erasures_erasure.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN erasures_erasure.erasure_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN erasures_erasure.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN erasures_erasure.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN erasures_erasure.content IS 'What the newest record says: digests and members, no value.';
COMMENT ON COLUMN erasures_erasure.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN erasures_erasure.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE erasures_erasure ENABLE ROW LEVEL SECURITY;
CREATE POLICY erasures_erasure_tenant ON erasures_erasure TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON erasures_erasure TO assize_service;

ALTER TABLE imports_upload ADD COLUMN erased boolean NOT NULL DEFAULT false;
COMMENT ON COLUMN imports_upload.erased IS 'Whether the bytes were deleted, since they held what was erased.';
GRANT UPDATE (bytes, erased) ON imports_upload TO assize_service;
-- Answers are made again without what was erased.
GRANT UPDATE (body) ON idempotency_answer TO assize_service;
