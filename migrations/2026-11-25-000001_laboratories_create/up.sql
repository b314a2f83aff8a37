-- Roles own nothing. They are made once for a server and kept when a database is dropped.
DO $$
DECLARE role_name text;
BEGIN
    FOREACH role_name IN ARRAY ARRAY['assize_service', 'assize_sign_in', 'assize_public', 'assize_jobs'] LOOP
        BEGIN
            IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = role_name) THEN
                EXECUTE format('CREATE ROLE %I NOLOGIN NOSUPERUSER NOBYPASSRLS', role_name);
            END IF;
        EXCEPTION WHEN duplicate_object OR unique_violation THEN
            NULL; -- another database of the same server made it meanwhile
        END;
        IF NOT pg_has_role(current_user, role_name, 'MEMBER') THEN
            EXECUTE format('GRANT %I TO CURRENT_USER', role_name);
        END IF;
    END LOOP;
END $$;

CREATE TABLE laboratories_laboratory (
    laboratory_id integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    id uuid NOT NULL,
    slug text NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    CONSTRAINT laboratories_laboratory_id_key UNIQUE (id),
    CONSTRAINT laboratories_laboratory_slug_key UNIQUE (slug)
);
COMMENT ON COLUMN laboratories_laboratory.laboratory_id IS 'Number that every other row carries; never shown.';
COMMENT ON COLUMN laboratories_laboratory.id IS 'Public id (UUID v7), the subject of its records.';
COMMENT ON COLUMN laboratories_laboratory.slug IS 'Name in addresses; never changes.';
COMMENT ON COLUMN laboratories_laboratory.version IS 'Version of the subject that this row shows.';
COMMENT ON COLUMN laboratories_laboratory.state IS 'active or closed.';
COMMENT ON COLUMN laboratories_laboratory.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN laboratories_laboratory.created_at IS 'When it was set up (UTC).';
COMMENT ON COLUMN laboratories_laboratory.changed_at IS 'When this version was recorded (UTC).';
COMMENT ON TABLE laboratories_laboratory IS 'The laboratories: the tenants that own every other row.';
ALTER TABLE laboratories_laboratory ENABLE ROW LEVEL SECURITY;
CREATE POLICY laboratories_laboratory_tenant ON laboratories_laboratory TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer)) WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY laboratories_laboratory_sign_in ON laboratories_laboratory FOR SELECT
    TO assize_sign_in, assize_public, assize_jobs USING (true);
GRANT SELECT, UPDATE ON laboratories_laboratory TO assize_service;
GRANT SELECT ON laboratories_laboratory TO assize_sign_in, assize_public, assize_jobs;

CREATE TABLE laboratories_reference (
    laboratory_id integer NOT NULL,
    stamp bigint NOT NULL,
    CONSTRAINT laboratories_reference_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE laboratories_reference IS 'One row a laboratory: which state of its procedures, kit lots, limits and equipment is current.';
COMMENT ON COLUMN laboratories_reference.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN laboratories_reference.stamp IS 'Counts changes of what many samples share; a cached copy is good while this stands.';
ALTER TABLE laboratories_reference ENABLE ROW LEVEL SECURITY;
CREATE POLICY laboratories_reference_tenant ON laboratories_reference TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, UPDATE ON laboratories_reference TO assize_service;
ALTER TABLE laboratories_reference ADD PRIMARY KEY (laboratory_id);
