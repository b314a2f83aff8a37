CREATE TABLE ledger_anchor (
    laboratory_id integer NOT NULL,
    log_number integer NOT NULL,
    size bigint NOT NULL,
    party text NOT NULL,
    kind text NOT NULL,
    content bytea NOT NULL,
    query bytea,
    obtained_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, log_number, size, party),
    CONSTRAINT ledger_anchor_kind_check CHECK (kind IN ('cosignature', 'time-stamp')),
    CONSTRAINT ledger_anchor_checkpoint_fkey FOREIGN KEY (laboratory_id, log_number, size) REFERENCES ledger_checkpoint
);
COMMENT ON TABLE ledger_anchor IS 'What parties outside said of checkpoints: cosignatures of witnesses, time stamps.';
COMMENT ON COLUMN ledger_anchor.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_anchor.log_number IS 'The log.';
COMMENT ON COLUMN ledger_anchor.size IS 'Size of the checkpoint.';
COMMENT ON COLUMN ledger_anchor.party IS 'Verifier key of the witness, or address of the time-stamping authority.';
COMMENT ON COLUMN ledger_anchor.kind IS 'cosignature or time-stamp.';
COMMENT ON COLUMN ledger_anchor.content IS 'Signature lines of the witness, or the authority''s whole answer in DER.';
COMMENT ON COLUMN ledger_anchor.query IS 'The query that a time stamp answers, in DER.';
COMMENT ON COLUMN ledger_anchor.obtained_at IS 'When it was obtained (server clock, UTC).';
ALTER TABLE ledger_anchor ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_anchor_tenant ON ledger_anchor TO assize_service, assize_sequencer
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
CREATE POLICY ledger_anchor_waiting ON ledger_anchor FOR SELECT TO assize_sequencer USING (true);
CREATE POLICY ledger_anchor_public ON ledger_anchor FOR SELECT TO assize_public USING (true);
GRANT SELECT ON ledger_anchor TO assize_service, assize_public;
GRANT SELECT, INSERT ON ledger_anchor TO assize_sequencer;
CREATE TRIGGER ledger_anchor_append_only BEFORE UPDATE OR DELETE ON ledger_anchor
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_anchor_no_truncate BEFORE TRUNCATE ON ledger_anchor
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_anchor ENABLE ALWAYS TRIGGER ledger_anchor_append_only;
ALTER TABLE ledger_anchor ENABLE ALWAYS TRIGGER ledger_anchor_no_truncate;

-- A checkpoint as it is handed out: below its own signature, the lines of the witnesses.
CREATE FUNCTION ledger_cosigned(of_laboratory integer, of_log integer, of_size bigint, note text)
    RETURNS text LANGUAGE sql STABLE AS $$
    SELECT note || coalesce(string_agg(convert_from(content, 'UTF8'), '' ORDER BY party), '')
    FROM ledger_anchor
    WHERE laboratory_id = of_laboratory AND log_number = of_log AND size = of_size
        AND kind = 'cosignature'
$$;
