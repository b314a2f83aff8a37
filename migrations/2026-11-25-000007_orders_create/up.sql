CREATE TABLE orders_order (
    laboratory_id integer NOT NULL,
    order_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    customer_id uuid NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, order_id),
    CONSTRAINT orders_order_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT orders_order_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT orders_order_customer_id_fkey FOREIGN KEY (laboratory_id, customer_id) REFERENCES customers_customer
);
CREATE INDEX orders_order_customer_id_idx ON orders_order (laboratory_id, customer_id);
COMMENT ON TABLE orders_order IS 'What customers asked for.';
COMMENT ON COLUMN orders_order.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN orders_order.order_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN orders_order.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN orders_order.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN orders_order.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN orders_order.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN orders_order.customer_id IS 'Who ordered.';
COMMENT ON COLUMN orders_order.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN orders_order.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE orders_order ENABLE ROW LEVEL SECURITY;
CREATE POLICY orders_order_tenant ON orders_order TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON orders_order TO assize_service;
