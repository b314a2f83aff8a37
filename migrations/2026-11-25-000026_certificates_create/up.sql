CREATE TABLE certificates_certificate (
    laboratory_id integer NOT NULL,
    certificate_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    number text NOT NULL,
    code text NOT NULL,
    lot_id uuid NOT NULL,
    certificate text NOT NULL,
    act_id uuid NOT NULL,
    renderer text,
    pdf bytea,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, certificate_id),
    CONSTRAINT certificates_certificate_number_key UNIQUE (laboratory_id, number),
    CONSTRAINT certificates_certificate_code_key UNIQUE (code),
    CONSTRAINT certificates_certificate_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT certificates_certificate_lot_id_fkey FOREIGN KEY (laboratory_id, lot_id) REFERENCES lots_lot
);
CREATE INDEX certificates_certificate_lot_id_idx ON certificates_certificate (laboratory_id, lot_id);
COMMENT ON TABLE certificates_certificate IS 'Certificates.';
COMMENT ON COLUMN certificates_certificate.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN certificates_certificate.certificate_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN certificates_certificate.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN certificates_certificate.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN certificates_certificate.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN certificates_certificate.number IS 'Number, given when it is issued.';
COMMENT ON COLUMN certificates_certificate.code IS 'What the check page is found by; not to be guessed.';
COMMENT ON COLUMN certificates_certificate.lot_id IS 'The lot.';
COMMENT ON COLUMN certificates_certificate.certificate IS 'The SD-JWT with the disclosures that are left.';
COMMENT ON COLUMN certificates_certificate.act_id IS 'The act that issued it.';
COMMENT ON COLUMN certificates_certificate.renderer IS 'Version of the program that made the kept PDF.';
COMMENT ON COLUMN certificates_certificate.pdf IS 'The kept PDF; may be deleted and made again.';
COMMENT ON COLUMN certificates_certificate.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN certificates_certificate.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE certificates_certificate ENABLE ROW LEVEL SECURITY;
CREATE POLICY certificates_certificate_tenant ON certificates_certificate TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON certificates_certificate TO assize_service;
CREATE POLICY certificates_certificate_public ON certificates_certificate FOR SELECT TO assize_public USING (true);
GRANT SELECT ON certificates_certificate TO assize_public;

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
