CREATE TABLE equipment_item (
    laboratory_id integer NOT NULL,
    equipment_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    kind text NOT NULL,
    site_id uuid,
    due_on date,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, equipment_id),
    CONSTRAINT equipment_item_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT equipment_item_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT equipment_item_site_id_fkey FOREIGN KEY (laboratory_id, site_id) REFERENCES sites_site
);
CREATE INDEX equipment_item_site_id_idx ON equipment_item (laboratory_id, site_id);
COMMENT ON TABLE equipment_item IS 'Balances, pipettes, grinders and other equipment.';
COMMENT ON COLUMN equipment_item.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN equipment_item.equipment_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN equipment_item.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN equipment_item.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN equipment_item.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN equipment_item.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN equipment_item.kind IS 'balance, pipette, grinder, …';
COMMENT ON COLUMN equipment_item.site_id IS 'Where it stands.';
COMMENT ON COLUMN equipment_item.due_on IS 'When its calibration or check is due, whichever is sooner.';
COMMENT ON COLUMN equipment_item.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN equipment_item.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE equipment_item ENABLE ROW LEVEL SECURITY;
CREATE POLICY equipment_item_tenant ON equipment_item TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON equipment_item TO assize_service;

CREATE TABLE equipment_check (
    laboratory_id integer NOT NULL,
    check_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    equipment_id uuid,
    reader_id uuid,
    checked_at timestamptz NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, check_id),
    CONSTRAINT equipment_check_subject_check CHECK (num_nonnulls(equipment_id, reader_id) = 1),
    CONSTRAINT equipment_check_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT equipment_check_equipment_id_fkey FOREIGN KEY (laboratory_id, equipment_id) REFERENCES equipment_item,
    CONSTRAINT equipment_check_reader_id_fkey FOREIGN KEY (laboratory_id, reader_id) REFERENCES readers_reader
);
CREATE INDEX equipment_check_equipment_id_idx ON equipment_check (laboratory_id, equipment_id);
CREATE INDEX equipment_check_reader_id_idx ON equipment_check (laboratory_id, reader_id);
COMMENT ON TABLE equipment_check IS 'Checks and calibrations of equipment and readers.';
COMMENT ON COLUMN equipment_check.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN equipment_check.check_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN equipment_check.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN equipment_check.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN equipment_check.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN equipment_check.equipment_id IS 'The equipment, where it is not a reader.';
COMMENT ON COLUMN equipment_check.reader_id IS 'The reader, where it is one.';
COMMENT ON COLUMN equipment_check.checked_at IS 'When the check was made.';
COMMENT ON COLUMN equipment_check.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN equipment_check.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE equipment_check ENABLE ROW LEVEL SECURITY;
CREATE POLICY equipment_check_tenant ON equipment_check TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON equipment_check TO assize_service;
