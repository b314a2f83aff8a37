-- For which entries each key is good; and what a transaction that signs asks before it begins.
CREATE TABLE ledger_key_span (
    laboratory_id integer NOT NULL,
    key_id uuid NOT NULL,
    announced_by uuid NOT NULL,
    withdrawn_by uuid,
    from_log integer,
    from_entry bigint,
    until_log integer,
    until_entry bigint,
    signs boolean NOT NULL,
    PRIMARY KEY (laboratory_id, key_id),
    CONSTRAINT ledger_key_span_key_fkey FOREIGN KEY (laboratory_id, key_id) REFERENCES ledger_key,
    CONSTRAINT ledger_key_span_from_check CHECK ((from_log IS NULL) = (from_entry IS NULL)),
    CONSTRAINT ledger_key_span_until_check CHECK ((until_log IS NULL) = (until_entry IS NULL))
);
COMMENT ON TABLE ledger_key_span IS 'For which entries each key is good.';
COMMENT ON COLUMN ledger_key_span.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_key_span.key_id IS 'The key.';
COMMENT ON COLUMN ledger_key_span.announced_by IS 'The act that announces it.';
COMMENT ON COLUMN ledger_key_span.withdrawn_by IS 'The act that withdraws it.';
COMMENT ON COLUMN ledger_key_span.from_log IS 'The log of the first entry it is good for; none until its announcement has an entry.';
COMMENT ON COLUMN ledger_key_span.from_entry IS 'The first entry it is good for.';
COMMENT ON COLUMN ledger_key_span.until_log IS 'The log of the first entry it is no longer good for; none while it is in use.';
COMMENT ON COLUMN ledger_key_span.until_entry IS 'The first entry it is no longer good for.';
COMMENT ON COLUMN ledger_key_span.signs IS 'Whether the service may sign with it: its announcement comes before all that it signs.';
ALTER TABLE ledger_key_span ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_key_span_tenant ON ledger_key_span TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_key_span_public ON ledger_key_span FOR SELECT TO assize_public USING (true);
GRANT SELECT, INSERT ON ledger_key_span TO assize_service;
GRANT UPDATE (withdrawn_by, signs) ON ledger_key_span TO assize_service;
GRANT SELECT ON ledger_key_span TO assize_sequencer, assize_public;
GRANT UPDATE (from_log, from_entry, until_log, until_entry, signs) ON ledger_key_span TO assize_sequencer;
CREATE TRIGGER ledger_key_span_no_delete BEFORE DELETE ON ledger_key_span
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_key_span_no_truncate BEFORE TRUNCATE ON ledger_key_span
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_key_span ENABLE ALWAYS TRIGGER ledger_key_span_no_delete;
ALTER TABLE ledger_key_span ENABLE ALWAYS TRIGGER ledger_key_span_no_truncate;

-- A transaction that signs holds the laboratory's keys, shared, until it ends: a withdrawal takes
-- them alone, and so waits for it. The key that the caller remembers must still be the one to sign
-- with; looked up after the wait, so that a withdrawal that was waited for is seen.
CREATE FUNCTION ledger_share_keys(tenant integer, remembered text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    PERFORM pg_advisory_xact_lock_shared(1095981643, tenant);
    IF remembered IS NOT NULL AND remembered IS DISTINCT FROM (
        SELECT thumbprint FROM ledger_key JOIN ledger_key_span USING (laboratory_id, key_id)
         WHERE laboratory_id = tenant AND key_use = 'record' AND signs AND NOT retired
         ORDER BY key_id DESC LIMIT 1) THEN
        RAISE EXCEPTION 'another record key signs now' USING ERRCODE = 'AZK01';
    END IF;
END $$;
