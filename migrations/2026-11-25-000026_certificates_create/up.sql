CREATE TABLE certificates_certificate (
    laboratory_id integer NOT NULL,
    certificate_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    number text NOT NULL,
    code text NOT NULL,
    lot_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, certificate_id),
    CONSTRAINT certificates_certificate_number_key UNIQUE (laboratory_id, number),
    CONSTRAINT certificates_certificate_check_key UNIQUE (code),
    CONSTRAINT certificates_certificate_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT certificates_certificate_lot_id_fkey FOREIGN KEY (laboratory_id, lot_id) REFERENCES lots_lot
);
CREATE INDEX certificates_certificate_lot_id_idx ON certificates_certificate (laboratory_id, lot_id);
COMMENT ON TABLE certificates_certificate IS 'Certificates.';
COMMENT ON COLUMN certificates_certificate.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN certificates_certificate.certificate_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN certificates_certificate.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN certificates_certificate.state IS 'issued, under-investigation, replaced or withdrawn.';
COMMENT ON COLUMN certificates_certificate.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN certificates_certificate.number IS 'Number, given when it is issued.';
COMMENT ON COLUMN certificates_certificate.code IS 'What the check page is found by; not to be guessed.';
COMMENT ON COLUMN certificates_certificate.lot_id IS 'The lot.';
COMMENT ON COLUMN certificates_certificate.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN certificates_certificate.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE certificates_certificate ENABLE ROW LEVEL SECURITY;
CREATE POLICY certificates_certificate_tenant ON certificates_certificate TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON certificates_certificate TO assize_service;

CREATE TABLE certificates_document (
    laboratory_id integer NOT NULL,
    certificate_id uuid NOT NULL,
    certificate text NOT NULL,
    renderer text,
    pdf bytea,
    PRIMARY KEY (laboratory_id, certificate_id),
    CONSTRAINT certificates_document_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT certificates_document_certificate_id_fkey FOREIGN KEY (laboratory_id, certificate_id) REFERENCES certificates_certificate
);
COMMENT ON TABLE certificates_document IS 'What is handed out of a certificate.';
COMMENT ON COLUMN certificates_document.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN certificates_document.certificate_id IS 'The certificate.';
COMMENT ON COLUMN certificates_document.certificate IS 'The SD-JWT with the disclosures that are left.';
COMMENT ON COLUMN certificates_document.renderer IS 'Version of the program that made the kept PDF.';
COMMENT ON COLUMN certificates_document.pdf IS 'The kept PDF; may be deleted and made again.';
ALTER TABLE certificates_document ENABLE ROW LEVEL SECURITY;
CREATE POLICY certificates_document_tenant ON certificates_document TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON certificates_document TO assize_service;

CREATE TABLE certificates_result (
    laboratory_id integer NOT NULL,
    certificate_id uuid NOT NULL,
    result_id uuid NOT NULL,
    result_version integer NOT NULL,
    PRIMARY KEY (laboratory_id, certificate_id, result_id),
    CONSTRAINT certificates_result_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT certificates_result_certificate_id_fkey FOREIGN KEY (laboratory_id, certificate_id) REFERENCES certificates_certificate,
    CONSTRAINT certificates_result_result_id_fkey FOREIGN KEY (laboratory_id, result_id) REFERENCES results_result
);
CREATE INDEX certificates_result_result_id_idx ON certificates_result (laboratory_id, result_id);
COMMENT ON TABLE certificates_result IS 'Which results a certificate states.';
COMMENT ON COLUMN certificates_result.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN certificates_result.certificate_id IS 'The certificate.';
COMMENT ON COLUMN certificates_result.result_id IS 'A result on it.';
COMMENT ON COLUMN certificates_result.result_version IS 'The version that it states.';
ALTER TABLE certificates_result ENABLE ROW LEVEL SECURITY;
CREATE POLICY certificates_result_tenant ON certificates_result TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON certificates_result TO assize_service;

CREATE TABLE certificates_counter (
    laboratory_id integer NOT NULL,
    year smallint NOT NULL,
    issued integer NOT NULL,
    PRIMARY KEY (laboratory_id, year),
    CONSTRAINT certificates_counter_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE certificates_counter IS 'The last certificate number of a year.';
COMMENT ON COLUMN certificates_counter.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN certificates_counter.year IS 'Year of issue.';
COMMENT ON COLUMN certificates_counter.issued IS 'How many numbers were given in that year.';
ALTER TABLE certificates_counter ENABLE ROW LEVEL SECURITY;
CREATE POLICY certificates_counter_tenant ON certificates_counter TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON certificates_counter TO assize_service;

-- The check page knows a code, which nobody guesses. What stands behind that one code is handed
-- out by a function of the owner, so that the public role itself can read no table of it.
CREATE FUNCTION certificates_shown(wanted text)
    RETURNS TABLE (laboratory uuid, laboratory_name text, certificate_id uuid, state text,
        content jsonb, changed_at timestamptz, certificate text, renderer text, pdf bytea,
        entry text, records bytea, record_position smallint, successor_number text,
        successor_code text)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    SELECT laboratory.id, laboratory.content ->> 'name', shown.certificate_id, shown.state,
        shown.content, shown.changed_at, document.certificate, document.renderer, document.pdf,
        act.entry, act.records, first.position, successor.number, successor.code
    FROM certificates_certificate AS shown
    JOIN laboratories_laboratory AS laboratory USING (laboratory_id)
    JOIN certificates_document AS document USING (laboratory_id, certificate_id)
    JOIN ledger_version AS first ON first.laboratory_id = shown.laboratory_id
        AND first.subject_id = shown.certificate_id AND first.version = 1
    JOIN ledger_act AS act ON act.laboratory_id = first.laboratory_id AND act.act_id = first.act_id
    LEFT JOIN certificates_certificate AS successor
        ON successor.laboratory_id = shown.laboratory_id
        AND successor.certificate_id = (shown.content ->> 'by')::uuid
    WHERE shown.code = wanted
$$;
REVOKE ALL ON FUNCTION certificates_shown(text) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION certificates_shown(text) TO assize_public;
