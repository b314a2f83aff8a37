CREATE TABLE reviews_review (
    laboratory_id integer NOT NULL,
    review_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    reviewer_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, review_id),
    CONSTRAINT reviews_review_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT reviews_review_reviewer_id_fkey FOREIGN KEY (laboratory_id, reviewer_id) REFERENCES identity_account
);
CREATE INDEX reviews_review_reviewer_id_idx ON reviews_review (laboratory_id, reviewer_id);
COMMENT ON TABLE reviews_review IS 'Reviews: the second person''s signature, or a return.';
COMMENT ON COLUMN reviews_review.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN reviews_review.review_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN reviews_review.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN reviews_review.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN reviews_review.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN reviews_review.reviewer_id IS 'The account that signed.';
COMMENT ON COLUMN reviews_review.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN reviews_review.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE reviews_review ENABLE ROW LEVEL SECURITY;
CREATE POLICY reviews_review_tenant ON reviews_review TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON reviews_review TO assize_service;

CREATE TABLE reviews_result (
    laboratory_id integer NOT NULL,
    result_id uuid NOT NULL,
    review_id uuid NOT NULL,
    result_version integer NOT NULL,
    PRIMARY KEY (laboratory_id, result_id, review_id),
    CONSTRAINT reviews_result_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT reviews_result_result_id_fkey FOREIGN KEY (laboratory_id, result_id) REFERENCES results_result,
    CONSTRAINT reviews_result_review_id_fkey FOREIGN KEY (laboratory_id, review_id) REFERENCES reviews_review
);
CREATE INDEX reviews_result_review_id_idx ON reviews_result (laboratory_id, review_id);
COMMENT ON TABLE reviews_result IS 'Which results a review signed.';
COMMENT ON COLUMN reviews_result.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN reviews_result.result_id IS 'A result that was signed.';
COMMENT ON COLUMN reviews_result.review_id IS 'The review.';
COMMENT ON COLUMN reviews_result.result_version IS 'The version that the reviewer was shown.';
ALTER TABLE reviews_result ENABLE ROW LEVEL SECURITY;
CREATE POLICY reviews_result_tenant ON reviews_result TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT ON reviews_result TO assize_service;
