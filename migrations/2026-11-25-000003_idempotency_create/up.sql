CREATE TABLE idempotency_answer (
    laboratory_id integer NOT NULL,
    caller_id uuid NOT NULL,
    method text NOT NULL,
    path text NOT NULL,
    idempotency_key text NOT NULL,
    fingerprint bytea NOT NULL,
    status smallint NOT NULL,
    headers jsonb NOT NULL,
    body bytea NOT NULL,
    answered_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, caller_id, method, path, idempotency_key)
);
CREATE INDEX idempotency_answer_answered_at_idx ON idempotency_answer (laboratory_id, answered_at);
COMMENT ON TABLE idempotency_answer IS 'Answers kept for a repeat of the same request.';
COMMENT ON COLUMN idempotency_answer.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN idempotency_answer.caller_id IS 'Account or client that sent the request.';
COMMENT ON COLUMN idempotency_answer.method IS 'HTTP method.';
COMMENT ON COLUMN idempotency_answer.path IS 'Path of the request.';
COMMENT ON COLUMN idempotency_answer.idempotency_key IS 'The key that the caller chose.';
COMMENT ON COLUMN idempotency_answer.fingerprint IS 'SHA-256 of the body.';
COMMENT ON COLUMN idempotency_answer.status IS 'Status that was answered.';
COMMENT ON COLUMN idempotency_answer.headers IS 'Headers that were answered.';
COMMENT ON COLUMN idempotency_answer.body IS 'Body that was answered.';
COMMENT ON COLUMN idempotency_answer.answered_at IS 'When; kept seven days at least.';
ALTER TABLE idempotency_answer ENABLE ROW LEVEL SECURITY;
CREATE POLICY idempotency_answer_tenant ON idempotency_answer TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, DELETE ON idempotency_answer TO assize_service;
