CREATE TABLE limits_limit (
    laboratory_id integer NOT NULL,
    limit_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    analyte text NOT NULL,
    jurisdiction text,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, limit_id),
    CONSTRAINT limits_limit_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT limits_limit_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE limits_limit IS 'Limits that were adopted, proposed by hand, or retired. The shipped proposals stand in the program.';
COMMENT ON COLUMN limits_limit.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN limits_limit.limit_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN limits_limit.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN limits_limit.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN limits_limit.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN limits_limit.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN limits_limit.analyte IS 'Analyte slug.';
COMMENT ON COLUMN limits_limit.jurisdiction IS 'US, EU, …; absent for a contract or the intake''s own.';
COMMENT ON COLUMN limits_limit.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN limits_limit.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE limits_limit ENABLE ROW LEVEL SECURITY;
CREATE POLICY limits_limit_tenant ON limits_limit TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON limits_limit TO assize_service;
