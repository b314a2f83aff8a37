CREATE TABLE sites_site (
    laboratory_id integer NOT NULL,
    site_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, site_id),
    CONSTRAINT sites_site_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT sites_site_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE sites_site IS 'Places of the laboratory.';
COMMENT ON COLUMN sites_site.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN sites_site.site_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN sites_site.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN sites_site.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN sites_site.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN sites_site.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN sites_site.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN sites_site.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE sites_site ENABLE ROW LEVEL SECURITY;
CREATE POLICY sites_site_tenant ON sites_site TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON sites_site TO assize_service;
