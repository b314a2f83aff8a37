CREATE TABLE customers_customer (
    laboratory_id integer NOT NULL,
    customer_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, customer_id),
    CONSTRAINT customers_customer_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT customers_customer_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE customers_customer IS 'Customers.';
COMMENT ON COLUMN customers_customer.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN customers_customer.customer_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN customers_customer.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN customers_customer.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN customers_customer.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN customers_customer.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN customers_customer.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN customers_customer.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE customers_customer ENABLE ROW LEVEL SECURITY;
CREATE POLICY customers_customer_tenant ON customers_customer TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON customers_customer TO assize_service;
