CREATE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only: % is refused', TG_TABLE_NAME, TG_OP
        USING ERRCODE = 'restrict_violation';
END $$;

CREATE TABLE ledger_act (
    laboratory_id integer NOT NULL,
    act_id uuid NOT NULL,
    action text NOT NULL,
    actor jsonb NOT NULL,
    recorded_at timestamptz NOT NULL,
    record_count integer NOT NULL,
    entry text NOT NULL,
    records bytea NOT NULL,
    PRIMARY KEY (laboratory_id, act_id),
    CONSTRAINT ledger_act_record_count_check CHECK (record_count BETWEEN 1 AND 256),
    CONSTRAINT ledger_act_entry_check CHECK (octet_length(entry) <= 65535)
);
COMMENT ON TABLE ledger_act IS 'Acts: what one actor did in one transaction, signed.';
COMMENT ON COLUMN ledger_act.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_act.act_id IS 'Id of the act (UUID v7).';
COMMENT ON COLUMN ledger_act.action IS 'Name of the operation, in kebab case.';
COMMENT ON COLUMN ledger_act.actor IS 'Who acted: account and role, client and role, or process.';
COMMENT ON COLUMN ledger_act.recorded_at IS 'The time in the act (server clock, UTC).';
COMMENT ON COLUMN ledger_act.record_count IS 'How many records the act holds, 1 to 256.';
COMMENT ON COLUMN ledger_act.entry IS 'The compact JWS, the bytes that the log holds.';
COMMENT ON COLUMN ledger_act.records IS 'Canonical bytes of the records in order, each ended by LF.';
ALTER TABLE ledger_act ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_act_tenant ON ledger_act TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON ledger_act TO assize_service;
CREATE TRIGGER ledger_act_append_only BEFORE UPDATE OR DELETE ON ledger_act
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_act_no_truncate BEFORE TRUNCATE ON ledger_act
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_act ENABLE ALWAYS TRIGGER ledger_act_append_only;
ALTER TABLE ledger_act ENABLE ALWAYS TRIGGER ledger_act_no_truncate;
DO $$
BEGIN
    ALTER TABLE ledger_act ALTER COLUMN records SET COMPRESSION lz4;
EXCEPTION WHEN feature_not_supported OR invalid_parameter_value THEN
    NULL; -- a server built without lz4 keeps its own compression
END $$;

CREATE TABLE ledger_version (
    laboratory_id integer NOT NULL,
    subject_id uuid NOT NULL,
    version integer NOT NULL,
    act_id uuid NOT NULL,
    position smallint NOT NULL,
    record_hash bytea NOT NULL,
    PRIMARY KEY (laboratory_id, subject_id, version)
);
COMMENT ON TABLE ledger_version IS 'Where each version of each subject stands.';
COMMENT ON COLUMN ledger_version.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_version.subject_id IS 'What the record speaks of.';
COMMENT ON COLUMN ledger_version.version IS 'Version of the subject, from 1 without a gap.';
COMMENT ON COLUMN ledger_version.act_id IS 'The act that holds the record.';
COMMENT ON COLUMN ledger_version.position IS 'Where in the act the record stands, from 0.';
COMMENT ON COLUMN ledger_version.record_hash IS 'SHA-256(0x00 || canonical bytes).';
ALTER TABLE ledger_version ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_version_tenant ON ledger_version TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON ledger_version TO assize_service;
CREATE TRIGGER ledger_version_append_only BEFORE UPDATE OR DELETE ON ledger_version
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_version_no_truncate BEFORE TRUNCATE ON ledger_version
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_version ENABLE ALWAYS TRIGGER ledger_version_append_only;
ALTER TABLE ledger_version ENABLE ALWAYS TRIGGER ledger_version_no_truncate;

CREATE TABLE ledger_pending (
    laboratory_id integer NOT NULL,
    pending_id bigint GENERATED ALWAYS AS IDENTITY (CACHE 1),
    act_id uuid NOT NULL,
    PRIMARY KEY (laboratory_id, pending_id)
);
COMMENT ON TABLE ledger_pending IS 'Acts that have no entry in the log yet.';
COMMENT ON COLUMN ledger_pending.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_pending.pending_id IS 'Order in which a sequencer looks at them; no promise about commit order.';
COMMENT ON COLUMN ledger_pending.act_id IS 'The act that waits for its entry in the log.';
ALTER TABLE ledger_pending ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_pending_tenant ON ledger_pending TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, DELETE ON ledger_pending TO assize_service;

CREATE TABLE ledger_disclosure (
    laboratory_id integer NOT NULL,
    digest text NOT NULL,
    disclosure text NOT NULL,
    act_id uuid NOT NULL,
    PRIMARY KEY (laboratory_id, digest)
);
COMMENT ON TABLE ledger_disclosure IS 'Personal data and free text, erasable without changing a hash.';
COMMENT ON COLUMN ledger_disclosure.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_disclosure.digest IS 'base64url of SHA-256 of the disclosure, as it stands in _sd.';
COMMENT ON COLUMN ledger_disclosure.disclosure IS 'The disclosure of RFC 9901: base64url of [salt, name, value].';
COMMENT ON COLUMN ledger_disclosure.act_id IS 'The act whose records or certificate it belongs to.';
ALTER TABLE ledger_disclosure ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_disclosure_tenant ON ledger_disclosure TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, DELETE ON ledger_disclosure TO assize_service;
CREATE TRIGGER ledger_disclosure_append_only BEFORE UPDATE ON ledger_disclosure
    FOR EACH ROW EXECUTE FUNCTION ledger_refuse();
CREATE TRIGGER ledger_disclosure_no_truncate BEFORE TRUNCATE ON ledger_disclosure
    FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuse();
ALTER TABLE ledger_disclosure ENABLE ALWAYS TRIGGER ledger_disclosure_append_only;
ALTER TABLE ledger_disclosure ENABLE ALWAYS TRIGGER ledger_disclosure_no_truncate;

CREATE TABLE ledger_key (
    laboratory_id integer NOT NULL,
    key_id uuid NOT NULL,
    key_use text NOT NULL,
    thumbprint text NOT NULL,
    public_key bytea NOT NULL,
    sealed_private_key bytea NOT NULL,
    version integer NOT NULL,
    retired boolean NOT NULL,
    PRIMARY KEY (laboratory_id, key_id),
    CONSTRAINT ledger_key_key_use_check CHECK (key_use IN ('record', 'log')),
    CONSTRAINT ledger_key_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE ledger_key IS 'Signing keys of the laboratory, sealed.';
COMMENT ON COLUMN ledger_key.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN ledger_key.key_id IS 'Subject of the key''s records.';
COMMENT ON COLUMN ledger_key.key_use IS 'record or log: what is signed with it.';
COMMENT ON COLUMN ledger_key.thumbprint IS 'RFC 7638 thumbprint of the public key, the kid.';
COMMENT ON COLUMN ledger_key.public_key IS 'The 32 bytes of the Ed25519 public key.';
COMMENT ON COLUMN ledger_key.sealed_private_key IS 'Nonce and ciphertext (XChaCha20-Poly1305) under the key that lives outside the database.';
COMMENT ON COLUMN ledger_key.version IS 'Version of the subject that announced it.';
COMMENT ON COLUMN ledger_key.retired IS 'Whether nothing new may be signed with it.';
ALTER TABLE ledger_key ENABLE ROW LEVEL SECURITY;
CREATE POLICY ledger_key_tenant ON ledger_key TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON ledger_key TO assize_service;
-- Whoever verifies asks for the public halves; the sealed private ones stay out of reach.
CREATE POLICY ledger_key_public ON ledger_key FOR SELECT TO assize_public USING (true);
GRANT SELECT (laboratory_id, key_id, key_use, thumbprint, public_key, version, retired)
    ON ledger_key TO assize_public;
