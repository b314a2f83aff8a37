-- The log of a laboratory: its acts as numbered entries, the tree over them, and what was signed of it.
DO $$
BEGIN
    BEGIN
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'assize_sequencer') THEN
            CREATE ROLE assize_sequencer NOLOGIN NOSUPERUSER NOBYPASSRLS;
        END IF;
    EXCEPTION WHEN duplicate_object OR unique_violation THEN
        NULL; -- another database of the same server made it meanwhile
    END;
    IF NOT pg_has_role(current_user, 'assize_sequencer', 'MEMBER') THEN
        GRANT assize_sequencer TO CURRENT_USER;
    END IF;
END $$;

CREATE FUNCTION ledger_only_grow() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP <> 'UPDATE' OR NEW.size < OLD.size OR NEW.signed_size < OLD.signed_size
        OR (NEW.laboratory_id, NEW.log_number) IS DISTINCT FROM (OLD.laboratory_id, OLD.log_number) THEN
        RAISE EXCEPTION '% may only grow: % is refused', TG_TABLE_NAME, TG_OP
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;

CREATE TABLE ledger_log (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    origin text NOT NULL,
    log_id uuid NOT NULL,
    began_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, log_number),
    CONSTRAINT ledger_log_log_number_check CHECK (log_number >= 1),
    CONSTRAINT ledger_log_origin_key UNIQUE (origin),
    CONSTRAINT ledger_log_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE ledger_log IS 'The logs of a laboratory: one, and another where one could not be continued.';
COMMENT ON COLUMN ledger_log.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_log.log_number IS '1, or the next where the log before could not be continued.';
COMMENT ON COLUMN ledger_log.origin IS 'Host, laboratory and number: the first line of its checkpoints; never changes.';
COMMENT ON COLUMN ledger_log.log_id IS 'Subject of the record that began it (UUID v7).';
COMMENT ON COLUMN ledger_log.began_at IS 'When it was begun (server clock, UTC).';
ALTER TABLE ledger_log ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_log_tenant ON ledger_log TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_log_public ON ledger_log FOR SELECT TO assize_public USING (true);
GRANT SELECT, INSERT ON ledger_log TO assize_service;
GRANT SELECT ON ledger_log TO assize_sequencer, assize_public;
CREATE TRIGGER ledger_log_append_only BEFORE UPDATE OR DELETE ON ledger_log
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_log_no_truncate BEFORE TRUNCATE ON ledger_log
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_log ENABLE ALWAYS TRIGGER ledger_log_append_only;
ALTER TABLE ledger_log ENABLE ALWAYS TRIGGER ledger_log_no_truncate;

CREATE TABLE ledger_head (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    size bigint NOT NULL,
    unfinished bytea[] NOT NULL,
    signed_size bigint NOT NULL,
    PRIMARY KEY (laboratory_id, log_number),
    CONSTRAINT ledger_head_size_check CHECK (size >= 0 AND signed_size BETWEEN -1 AND size),
    CONSTRAINT ledger_head_log_fkey FOREIGN KEY (laboratory_id, log_number) REFERENCES ledger_log
);
COMMENT ON TABLE ledger_head IS 'How far each log has come.';
COMMENT ON COLUMN ledger_head.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_head.log_number IS 'The log.';
COMMENT ON COLUMN ledger_head.size IS 'How many entries it has.';
COMMENT ON COLUMN ledger_head.unfinished IS 'The hashes of the unfinished tile of each level of tiles, the leaves first.';
COMMENT ON COLUMN ledger_head.signed_size IS 'Size of its newest checkpoint; -1 before the first.';
ALTER TABLE ledger_head ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_head_tenant ON ledger_head TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_head_public ON ledger_head FOR SELECT TO assize_public USING (true);
GRANT SELECT, INSERT ON ledger_head TO assize_service;
GRANT SELECT, UPDATE ON ledger_head TO assize_sequencer;
GRANT SELECT ON ledger_head TO assize_public;
-- Which laboratories have work is asked across all of them; what is done is done for one.
CREATE POLICY ledger_head_waiting ON ledger_head FOR SELECT TO assize_sequencer USING (true);
CREATE INDEX ledger_head_unsigned_idx ON ledger_head (laboratory_id) WHERE signed_size < size;
CREATE TRIGGER ledger_head_only_grow BEFORE UPDATE OR DELETE ON ledger_head
    FOR EACH ROW EXECUTE FUNCTION ledger_only_grow();
CREATE TRIGGER ledger_head_no_truncate BEFORE TRUNCATE ON ledger_head
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_head ENABLE ALWAYS TRIGGER ledger_head_only_grow;
ALTER TABLE ledger_head ENABLE ALWAYS TRIGGER ledger_head_no_truncate;

CREATE TABLE ledger_entry (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    entry_index bigint NOT NULL,
    act_id uuid NOT NULL,
    PRIMARY KEY (laboratory_id, log_number, entry_index),
    CONSTRAINT ledger_entry_act_key UNIQUE (laboratory_id, act_id)
);
COMMENT ON TABLE ledger_entry IS 'The entries of each log: acts, numbered from 0 without a gap.';
COMMENT ON COLUMN ledger_entry.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_entry.log_number IS 'The log.';
COMMENT ON COLUMN ledger_entry.entry_index IS 'Number of the entry in its log, from 0.';
COMMENT ON COLUMN ledger_entry.act_id IS 'The act whose signed bytes the entry is.';
ALTER TABLE ledger_entry ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_entry_tenant ON ledger_entry TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_entry_public ON ledger_entry FOR SELECT TO assize_public USING (true);
GRANT SELECT ON ledger_entry TO assize_service, assize_public;
GRANT SELECT, INSERT ON ledger_entry TO assize_sequencer;
CREATE TRIGGER ledger_entry_append_only BEFORE UPDATE OR DELETE ON ledger_entry
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_entry_no_truncate BEFORE TRUNCATE ON ledger_entry
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_entry ENABLE ALWAYS TRIGGER ledger_entry_append_only;
ALTER TABLE ledger_entry ENABLE ALWAYS TRIGGER ledger_entry_no_truncate;

CREATE TABLE ledger_tile (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    level smallint NOT NULL,
    tile_index bigint NOT NULL,
    hashes bytea NOT NULL,
    PRIMARY KEY (laboratory_id, log_number, level, tile_index),
    CONSTRAINT ledger_tile_hashes_check CHECK (octet_length(hashes) = 8192)
);
COMMENT ON TABLE ledger_tile IS 'The full tiles of each log.';
COMMENT ON COLUMN ledger_tile.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_tile.log_number IS 'The log.';
COMMENT ON COLUMN ledger_tile.level IS '0 for leaf hashes; a hash of a higher level is the root of a full tile of the level below.';
COMMENT ON COLUMN ledger_tile.tile_index IS 'Number of the tile in its level, from 0.';
COMMENT ON COLUMN ledger_tile.hashes IS '256 hashes of 32 bytes.';
ALTER TABLE ledger_tile ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_tile_tenant ON ledger_tile TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_tile_public ON ledger_tile FOR SELECT TO assize_public USING (true);
GRANT SELECT ON ledger_tile TO assize_service, assize_public;
GRANT SELECT, INSERT ON ledger_tile TO assize_sequencer;
CREATE TRIGGER ledger_tile_append_only BEFORE UPDATE OR DELETE ON ledger_tile
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_tile_no_truncate BEFORE TRUNCATE ON ledger_tile
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_tile ENABLE ALWAYS TRIGGER ledger_tile_append_only;
ALTER TABLE ledger_tile ENABLE ALWAYS TRIGGER ledger_tile_no_truncate;
-- Hashes do not compress.
ALTER TABLE ledger_tile ALTER COLUMN hashes SET STORAGE EXTERNAL;

CREATE TABLE ledger_checkpoint (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    size bigint NOT NULL,
    root bytea NOT NULL,
    note text NOT NULL,
    signed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, log_number, size),
    CONSTRAINT ledger_checkpoint_root_check CHECK (octet_length(root) = 32),
    CONSTRAINT ledger_checkpoint_log_fkey FOREIGN KEY (laboratory_id, log_number) REFERENCES ledger_log
);
COMMENT ON TABLE ledger_checkpoint IS 'What was signed of each log.';
COMMENT ON COLUMN ledger_checkpoint.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_checkpoint.log_number IS 'The log.';
COMMENT ON COLUMN ledger_checkpoint.size IS 'How many entries it had.';
COMMENT ON COLUMN ledger_checkpoint.root IS 'Root of the tree over them.';
COMMENT ON COLUMN ledger_checkpoint.note IS 'The checkpoint as it was signed.';
COMMENT ON COLUMN ledger_checkpoint.signed_at IS 'When it was signed (server clock, UTC).';
ALTER TABLE ledger_checkpoint ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_checkpoint_tenant ON ledger_checkpoint TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_checkpoint_public ON ledger_checkpoint FOR SELECT TO assize_public USING (true);
GRANT SELECT ON ledger_checkpoint TO assize_service, assize_public;
GRANT SELECT, INSERT ON ledger_checkpoint TO assize_sequencer;
CREATE TRIGGER ledger_checkpoint_append_only BEFORE UPDATE OR DELETE ON ledger_checkpoint
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_checkpoint_no_truncate BEFORE TRUNCATE ON ledger_checkpoint
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_checkpoint ENABLE ALWAYS TRIGGER ledger_checkpoint_append_only;
ALTER TABLE ledger_checkpoint ENABLE ALWAYS TRIGGER ledger_checkpoint_no_truncate;

-- What the sequencer reads of what others wrote.
CREATE POLICY ledger_act_sequencer ON ledger_act FOR SELECT TO assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT (laboratory_id, act_id, recorded_at, entry) ON ledger_act TO assize_sequencer;
CREATE POLICY ledger_pending_sequencer ON ledger_pending FOR DELETE TO assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_pending_waiting ON ledger_pending FOR SELECT TO assize_sequencer USING (true);
GRANT SELECT, DELETE ON ledger_pending TO assize_sequencer;
CREATE POLICY ledger_key_sequencer ON ledger_key FOR SELECT TO assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT ON ledger_key TO assize_sequencer;
CREATE POLICY laboratories_laboratory_sequencer ON laboratories_laboratory FOR SELECT
    TO assize_sequencer USING (true);
GRANT SELECT ON laboratories_laboratory TO assize_sequencer;
-- Entries carry no personal data: whoever may read a log reads the acts' signed bytes, no more.
CREATE POLICY ledger_act_public ON ledger_act FOR SELECT TO assize_public USING (true);
GRANT SELECT (laboratory_id, act_id, entry) ON ledger_act TO assize_public;

ALTER TABLE ledger_pending ADD COLUMN pending_since timestamptz NOT NULL DEFAULT now();
COMMENT ON COLUMN ledger_pending.pending_since IS 'When the transaction of the act began (database''s clock, UTC).';
