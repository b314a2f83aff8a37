CREATE TABLE identity_account (
    laboratory_id integer NOT NULL,
    account_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    login text NOT NULL,
    password_hash text NOT NULL,
    failed_attempts integer NOT NULL DEFAULT 0,
    locked_until timestamptz,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, account_id),
    CONSTRAINT identity_account_login_key UNIQUE (laboratory_id, login),
    CONSTRAINT identity_account_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE identity_account IS 'Accounts of people.';
COMMENT ON COLUMN identity_account.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN identity_account.account_id IS 'The account.';
COMMENT ON COLUMN identity_account.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN identity_account.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN identity_account.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN identity_account.login IS 'What the person types to sign in, lower case.';
COMMENT ON COLUMN identity_account.password_hash IS 'argon2id, PHC string; never in a record.';
COMMENT ON COLUMN identity_account.failed_attempts IS 'Refused sign-ins since the last good one.';
COMMENT ON COLUMN identity_account.locked_until IS 'No sign-in before this time.';
COMMENT ON COLUMN identity_account.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN identity_account.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE identity_account ENABLE ROW LEVEL SECURITY;
CREATE POLICY identity_account_tenant ON identity_account TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON identity_account TO assize_service;
CREATE POLICY identity_account_sign_in ON identity_account FOR SELECT TO assize_sign_in USING (true);
GRANT SELECT ON identity_account TO assize_sign_in;

CREATE TABLE identity_client (
    laboratory_id integer NOT NULL,
    client_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    secret_hash text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, client_id),
    CONSTRAINT identity_client_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE identity_client IS 'Service clients: reader exports, weighbridges, ERP.';
COMMENT ON COLUMN identity_client.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN identity_client.client_id IS 'The service client.';
COMMENT ON COLUMN identity_client.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN identity_client.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN identity_client.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN identity_client.secret_hash IS 'argon2id, PHC string; never in a record.';
COMMENT ON COLUMN identity_client.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN identity_client.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE identity_client ENABLE ROW LEVEL SECURITY;
CREATE POLICY identity_client_tenant ON identity_client TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON identity_client TO assize_service;
CREATE POLICY identity_client_sign_in ON identity_client FOR SELECT TO assize_sign_in USING (true);
GRANT SELECT ON identity_client TO assize_sign_in;
