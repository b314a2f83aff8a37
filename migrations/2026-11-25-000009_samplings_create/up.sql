CREATE TABLE samplings_sampling (
    laboratory_id integer NOT NULL,
    sampling_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    lot_id uuid NOT NULL,
    taken_at timestamptz NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, sampling_id),
    CONSTRAINT samplings_sampling_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT samplings_sampling_lot_id_fkey FOREIGN KEY (laboratory_id, lot_id) REFERENCES lots_lot
);
CREATE INDEX samplings_sampling_lot_id_idx ON samplings_sampling (laboratory_id, lot_id);
COMMENT ON TABLE samplings_sampling IS 'The taking of increments.';
COMMENT ON COLUMN samplings_sampling.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN samplings_sampling.sampling_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN samplings_sampling.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN samplings_sampling.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN samplings_sampling.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN samplings_sampling.lot_id IS 'The lot.';
COMMENT ON COLUMN samplings_sampling.taken_at IS 'When.';
COMMENT ON COLUMN samplings_sampling.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN samplings_sampling.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE samplings_sampling ENABLE ROW LEVEL SECURITY;
CREATE POLICY samplings_sampling_tenant ON samplings_sampling TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON samplings_sampling TO assize_service;
