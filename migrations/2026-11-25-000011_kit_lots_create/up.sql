CREATE TABLE kit_lots_kit_lot (
    laboratory_id integer NOT NULL,
    kit_lot_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    expires_on date NOT NULL,
    procedure_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, kit_lot_id),
    CONSTRAINT kit_lots_kit_lot_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT kit_lots_kit_lot_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT kit_lots_kit_lot_procedure_id_fkey FOREIGN KEY (laboratory_id, procedure_id) REFERENCES procedures_procedure
);
CREATE INDEX kit_lots_kit_lot_procedure_id_idx ON kit_lots_kit_lot (laboratory_id, procedure_id);
COMMENT ON TABLE kit_lots_kit_lot IS 'Kit lots.';
COMMENT ON COLUMN kit_lots_kit_lot.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN kit_lots_kit_lot.kit_lot_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN kit_lots_kit_lot.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN kit_lots_kit_lot.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN kit_lots_kit_lot.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN kit_lots_kit_lot.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN kit_lots_kit_lot.expires_on IS 'Last day of use.';
COMMENT ON COLUMN kit_lots_kit_lot.procedure_id IS 'The procedure that it is used by.';
COMMENT ON COLUMN kit_lots_kit_lot.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN kit_lots_kit_lot.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE kit_lots_kit_lot ENABLE ROW LEVEL SECURITY;
CREATE POLICY kit_lots_kit_lot_tenant ON kit_lots_kit_lot TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON kit_lots_kit_lot TO assize_service;
