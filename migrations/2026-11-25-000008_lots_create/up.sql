CREATE TABLE lots_lot (
    laboratory_id integer NOT NULL,
    lot_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    parent_id uuid,
    order_id uuid,
    customer_id uuid,
    commodity text NOT NULL,
    arrived_on date NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, lot_id),
    CONSTRAINT lots_lot_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT lots_lot_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT lots_lot_parent_id_fkey FOREIGN KEY (laboratory_id, parent_id) REFERENCES lots_lot,
    CONSTRAINT lots_lot_order_id_fkey FOREIGN KEY (laboratory_id, order_id) REFERENCES orders_order,
    CONSTRAINT lots_lot_customer_id_fkey FOREIGN KEY (laboratory_id, customer_id) REFERENCES customers_customer
);
CREATE INDEX lots_lot_parent_id_idx ON lots_lot (laboratory_id, parent_id);
CREATE INDEX lots_lot_order_id_idx ON lots_lot (laboratory_id, order_id);
CREATE INDEX lots_lot_customer_id_idx ON lots_lot (laboratory_id, customer_id);
CREATE INDEX lots_lot_arrived_on_idx ON lots_lot (laboratory_id, arrived_on);
COMMENT ON TABLE lots_lot IS 'Lots and sublots: the goods.';
COMMENT ON COLUMN lots_lot.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN lots_lot.lot_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN lots_lot.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN lots_lot.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN lots_lot.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN lots_lot.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN lots_lot.parent_id IS 'The lot that this one is a part of.';
COMMENT ON COLUMN lots_lot.order_id IS 'The order under which it is tested.';
COMMENT ON COLUMN lots_lot.customer_id IS 'Whose goods they are.';
COMMENT ON COLUMN lots_lot.commodity IS 'Commodity of the controlled vocabulary.';
COMMENT ON COLUMN lots_lot.arrived_on IS 'Day of arrival.';
COMMENT ON COLUMN lots_lot.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN lots_lot.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE lots_lot ENABLE ROW LEVEL SECURITY;
CREATE POLICY lots_lot_tenant ON lots_lot TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON lots_lot TO assize_service;

CREATE TABLE lots_party (
    laboratory_id integer NOT NULL,
    lot_id uuid NOT NULL,
    customer_id uuid NOT NULL,
    role text NOT NULL,
    sees text NOT NULL,
    PRIMARY KEY (laboratory_id, lot_id, customer_id, role),
    CONSTRAINT lots_party_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT lots_party_lot_id_fkey FOREIGN KEY (laboratory_id, lot_id) REFERENCES lots_lot,
    CONSTRAINT lots_party_customer_id_fkey FOREIGN KEY (laboratory_id, customer_id) REFERENCES customers_customer
);
CREATE INDEX lots_party_lot_id_idx ON lots_party (laboratory_id, lot_id);
CREATE INDEX lots_party_customer_id_idx ON lots_party (laboratory_id, customer_id);
COMMENT ON TABLE lots_party IS 'Parties of a lot and what they may see.';
COMMENT ON COLUMN lots_party.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN lots_party.lot_id IS 'The lot.';
COMMENT ON COLUMN lots_party.customer_id IS 'The party.';
COMMENT ON COLUMN lots_party.role IS 'seller, buyer or agent.';
COMMENT ON COLUMN lots_party.sees IS 'certificates, results or nothing.';
ALTER TABLE lots_party ENABLE ROW LEVEL SECURITY;
CREATE POLICY lots_party_tenant ON lots_party TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, DELETE ON lots_party TO assize_service;
