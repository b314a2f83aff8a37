CREATE TABLE procedures_procedure (
    laboratory_id integer NOT NULL,
    procedure_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, procedure_id),
    CONSTRAINT procedures_procedure_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT procedures_procedure_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE procedures_procedure IS 'Procedures: versions of the written method.';
COMMENT ON COLUMN procedures_procedure.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN procedures_procedure.procedure_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN procedures_procedure.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN procedures_procedure.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN procedures_procedure.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN procedures_procedure.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN procedures_procedure.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN procedures_procedure.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE procedures_procedure ENABLE ROW LEVEL SECURITY;
CREATE POLICY procedures_procedure_tenant ON procedures_procedure TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON procedures_procedure TO assize_service;
