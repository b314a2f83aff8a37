CREATE TABLE series_series (
    laboratory_id integer NOT NULL,
    series_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    site_id uuid,
    kit_lot_id uuid,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, series_id),
    CONSTRAINT series_series_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT series_series_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT series_series_site_id_fkey FOREIGN KEY (laboratory_id, site_id) REFERENCES sites_site,
    CONSTRAINT series_series_kit_lot_id_fkey FOREIGN KEY (laboratory_id, kit_lot_id) REFERENCES kit_lots_kit_lot
);
CREATE INDEX series_series_site_id_idx ON series_series (laboratory_id, site_id);
CREATE INDEX series_series_kit_lot_id_idx ON series_series (laboratory_id, kit_lot_id);
COMMENT ON TABLE series_series IS 'Series: runs that share their control runs.';
COMMENT ON COLUMN series_series.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN series_series.series_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN series_series.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN series_series.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN series_series.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN series_series.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN series_series.site_id IS 'Where.';
COMMENT ON COLUMN series_series.kit_lot_id IS 'Kit lot of its runs.';
COMMENT ON COLUMN series_series.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN series_series.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE series_series ENABLE ROW LEVEL SECURITY;
CREATE POLICY series_series_tenant ON series_series TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON series_series TO assize_service;
