-- Runs arrive by the hundred thousand: a foreign key stands only where a rule needs one. Kit lot,
-- reader, series and analyst are checked by the domain against the laboratory's own lists.
CREATE TABLE runs_run (
    laboratory_id integer NOT NULL,
    run_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    sample_id uuid,
    reader_id uuid,
    port smallint NOT NULL,
    read_at timestamptz,
    kit_lot_id uuid,
    series_id uuid,
    analyst_id uuid,
    import_key text,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, run_id),
    CONSTRAINT runs_run_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample
);
CREATE INDEX runs_run_sample_id_idx ON runs_run (laboratory_id, sample_id);
CREATE INDEX runs_run_reader_idx ON runs_run (laboratory_id, reader_id, read_at);
CREATE INDEX runs_run_kit_lot_idx ON runs_run (laboratory_id, kit_lot_id);
CREATE INDEX runs_run_series_idx ON runs_run (laboratory_id, series_id) WHERE series_id IS NOT NULL;
CREATE INDEX runs_run_unassigned_idx ON runs_run (laboratory_id, run_id) WHERE state = 'unassigned';
COMMENT ON TABLE runs_run IS 'Runs: one strip developed on one port.';
COMMENT ON COLUMN runs_run.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN runs_run.run_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN runs_run.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN runs_run.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN runs_run.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN runs_run.sample_id IS 'The sample, once it is known.';
COMMENT ON COLUMN runs_run.reader_id IS 'The reader, where it is known.';
COMMENT ON COLUMN runs_run.port IS 'Port of the reader, from 1.';
COMMENT ON COLUMN runs_run.read_at IS 'When the strip was read; absent while the run is begun.';
COMMENT ON COLUMN runs_run.kit_lot_id IS 'The kit lot, where it is known.';
COMMENT ON COLUMN runs_run.series_id IS 'The series.';
COMMENT ON COLUMN runs_run.analyst_id IS 'Who ran it, where that is known.';
COMMENT ON COLUMN runs_run.import_key IS 'What identifies the run in exports: the mapped identity columns.';
COMMENT ON COLUMN runs_run.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN runs_run.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE runs_run ENABLE ROW LEVEL SECURITY;
CREATE POLICY runs_run_tenant ON runs_run TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON runs_run TO assize_service;
CREATE UNIQUE INDEX runs_run_import_key ON runs_run (laboratory_id, import_key) WHERE import_key IS NOT NULL;
