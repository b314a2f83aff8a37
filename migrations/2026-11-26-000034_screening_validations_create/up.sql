-- Validations of screening methods, with the figures that were adopted, and their yearly reviews.
CREATE TABLE screening_validations_validation (
    laboratory_id integer NOT NULL,
    validation_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    procedure_id uuid NOT NULL,
    analyte text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, validation_id),
    CONSTRAINT screening_validations_validation_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT screening_validations_validation_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT screening_validations_validation_procedure_id_fkey FOREIGN KEY (laboratory_id, procedure_id) REFERENCES procedures_procedure
);
CREATE INDEX screening_validations_validation_procedure_id_idx ON screening_validations_validation (laboratory_id, procedure_id);
COMMENT ON TABLE screening_validations_validation IS 'Validations of screening methods.';
COMMENT ON COLUMN screening_validations_validation.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN screening_validations_validation.validation_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN screening_validations_validation.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN screening_validations_validation.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN screening_validations_validation.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN screening_validations_validation.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN screening_validations_validation.procedure_id IS 'The procedure that is validated.';
COMMENT ON COLUMN screening_validations_validation.analyte IS 'What it is validated for, by its slug.';
COMMENT ON COLUMN screening_validations_validation.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN screening_validations_validation.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE screening_validations_validation ENABLE ROW LEVEL SECURITY;
CREATE POLICY screening_validations_validation_tenant ON screening_validations_validation TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON screening_validations_validation TO assize_service;

CREATE TABLE screening_validations_review (
    laboratory_id integer NOT NULL,
    review_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    validation_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, review_id),
    CONSTRAINT screening_validations_review_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT screening_validations_review_validation_id_fkey FOREIGN KEY (laboratory_id, validation_id) REFERENCES screening_validations_validation
);
CREATE INDEX screening_validations_review_validation_id_idx ON screening_validations_review (laboratory_id, validation_id);
COMMENT ON TABLE screening_validations_review IS 'Reviews of validations, with the control runs that were joined in.';
COMMENT ON COLUMN screening_validations_review.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN screening_validations_review.review_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN screening_validations_review.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN screening_validations_review.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN screening_validations_review.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN screening_validations_review.validation_id IS 'The validation that was reviewed.';
COMMENT ON COLUMN screening_validations_review.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN screening_validations_review.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE screening_validations_review ENABLE ROW LEVEL SECURITY;
CREATE POLICY screening_validations_review_tenant ON screening_validations_review TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON screening_validations_review TO assize_service;
