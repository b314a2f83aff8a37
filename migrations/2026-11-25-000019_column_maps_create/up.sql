CREATE TABLE column_maps_column_map (
    laboratory_id integer NOT NULL,
    column_map_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    name text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, column_map_id),
    CONSTRAINT column_maps_column_map_name_key UNIQUE (laboratory_id, name),
    CONSTRAINT column_maps_column_map_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE column_maps_column_map IS 'Column maps: how one reader''s export is read.';
COMMENT ON COLUMN column_maps_column_map.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN column_maps_column_map.column_map_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN column_maps_column_map.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN column_maps_column_map.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN column_maps_column_map.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN column_maps_column_map.name IS 'What the laboratory calls the map; unique in it.';
COMMENT ON COLUMN column_maps_column_map.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN column_maps_column_map.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE column_maps_column_map ENABLE ROW LEVEL SECURITY;
CREATE POLICY column_maps_column_map_tenant ON column_maps_column_map TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON column_maps_column_map TO assize_service;
