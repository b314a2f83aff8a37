CREATE TABLE readers_reader (
    laboratory_id integer NOT NULL,
    reader_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    serial text NOT NULL,
    site_id uuid,
    due_on date,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, reader_id),
    CONSTRAINT readers_reader_serial_key UNIQUE (laboratory_id, serial),
    CONSTRAINT readers_reader_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT readers_reader_site_id_fkey FOREIGN KEY (laboratory_id, site_id) REFERENCES sites_site
);
CREATE INDEX readers_reader_site_id_idx ON readers_reader (laboratory_id, site_id);
COMMENT ON TABLE readers_reader IS 'Readers.';
COMMENT ON COLUMN readers_reader.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN readers_reader.reader_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN readers_reader.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN readers_reader.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN readers_reader.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN readers_reader.serial IS 'Serial number on the instrument.';
COMMENT ON COLUMN readers_reader.site_id IS 'Where it stands.';
COMMENT ON COLUMN readers_reader.due_on IS 'When its calibration or check is due, whichever is sooner.';
COMMENT ON COLUMN readers_reader.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN readers_reader.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE readers_reader ENABLE ROW LEVEL SECURITY;
CREATE POLICY readers_reader_tenant ON readers_reader TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON readers_reader TO assize_service;
