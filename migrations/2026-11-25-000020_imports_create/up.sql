CREATE TABLE imports_upload (
    laboratory_id integer NOT NULL,
    digest text NOT NULL,
    bytes bytea NOT NULL,
    media_type text,
    uploaded_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, digest),
    CONSTRAINT imports_upload_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE imports_upload IS 'Uploaded exports, kept under their digest.';
COMMENT ON COLUMN imports_upload.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN imports_upload.digest IS 'SHA-256 of the bytes, hex.';
COMMENT ON COLUMN imports_upload.bytes IS 'The upload as it came.';
COMMENT ON COLUMN imports_upload.media_type IS 'What the sender called it.';
COMMENT ON COLUMN imports_upload.uploaded_at IS 'When it first came.';
ALTER TABLE imports_upload ENABLE ROW LEVEL SECURITY;
CREATE POLICY imports_upload_tenant ON imports_upload TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON imports_upload TO assize_service;
DO $$
BEGIN
    ALTER TABLE imports_upload ALTER COLUMN bytes SET COMPRESSION lz4;
EXCEPTION WHEN feature_not_supported OR invalid_parameter_value THEN
    NULL; -- a server built without lz4 keeps its own compression
END $$;

CREATE TABLE imports_import (
    laboratory_id integer NOT NULL,
    import_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    column_map_id uuid NOT NULL,
    digest text NOT NULL,
    fingerprints bytea NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, import_id),
    CONSTRAINT imports_import_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT imports_import_column_map_id_fkey FOREIGN KEY (laboratory_id, column_map_id) REFERENCES column_maps_column_map
);
CREATE INDEX imports_import_column_map_id_idx ON imports_import (laboratory_id, column_map_id);
CREATE INDEX imports_import_digest_idx ON imports_import (laboratory_id, digest);
COMMENT ON TABLE imports_import IS 'Imports of exports.';
COMMENT ON COLUMN imports_import.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN imports_import.import_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN imports_import.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN imports_import.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN imports_import.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN imports_import.column_map_id IS 'The map it was read with.';
COMMENT ON COLUMN imports_import.digest IS 'The upload.';
COMMENT ON COLUMN imports_import.fingerprints IS 'What each reading said when it was imported: 24 bytes each, line (4), analyte (4) and digest of the mapped fields (16).';
COMMENT ON COLUMN imports_import.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN imports_import.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE imports_import ENABLE ROW LEVEL SECURITY;
CREATE POLICY imports_import_tenant ON imports_import TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON imports_import TO assize_service;

CREATE TABLE imports_row (
    laboratory_id integer NOT NULL,
    row_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    import_id uuid NOT NULL,
    line integer NOT NULL,
    text_digest bytea NOT NULL,
    run_id uuid,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, row_id),
    CONSTRAINT imports_row_line_key UNIQUE (laboratory_id, import_id, line),
    CONSTRAINT imports_row_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT imports_row_import_id_fkey FOREIGN KEY (laboratory_id, import_id) REFERENCES imports_import
);
CREATE INDEX imports_row_text_digest_idx ON imports_row (laboratory_id, text_digest);
COMMENT ON TABLE imports_row IS 'Rows that were refused, kept for mending.';
COMMENT ON COLUMN imports_row.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN imports_row.row_id IS 'The refused row (UUID v7), in the order of the lines.';
COMMENT ON COLUMN imports_row.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN imports_row.state IS 'refused or mended.';
COMMENT ON COLUMN imports_row.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN imports_row.import_id IS 'The import.';
COMMENT ON COLUMN imports_row.line IS 'Line of the export on which the row begins, from 1.';
COMMENT ON COLUMN imports_row.text_digest IS 'SHA-256 of column map and text: the same row in a later export is known by it.';
COMMENT ON COLUMN imports_row.run_id IS 'The run that its mending tells.';
COMMENT ON COLUMN imports_row.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN imports_row.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE imports_row ENABLE ROW LEVEL SECURITY;
CREATE POLICY imports_row_tenant ON imports_row TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON imports_row TO assize_service;
