CREATE TABLE samples_sample (
    laboratory_id integer NOT NULL,
    sample_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    purpose text NOT NULL,
    lot_id uuid,
    sampling_id uuid,
    order_id uuid,
    control_material_id uuid,
    site_id uuid,
    received_at timestamptz NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, sample_id),
    CONSTRAINT samples_sample_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT samples_sample_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT samples_sample_lot_id_fkey FOREIGN KEY (laboratory_id, lot_id) REFERENCES lots_lot,
    CONSTRAINT samples_sample_sampling_id_fkey FOREIGN KEY (laboratory_id, sampling_id) REFERENCES samplings_sampling,
    CONSTRAINT samples_sample_order_id_fkey FOREIGN KEY (laboratory_id, order_id) REFERENCES orders_order,
    CONSTRAINT samples_sample_control_material_id_fkey FOREIGN KEY (laboratory_id, control_material_id) REFERENCES control_materials_control_material,
    CONSTRAINT samples_sample_site_id_fkey FOREIGN KEY (laboratory_id, site_id) REFERENCES sites_site
);
CREATE INDEX samples_sample_lot_id_idx ON samples_sample (laboratory_id, lot_id);
CREATE INDEX samples_sample_sampling_id_idx ON samples_sample (laboratory_id, sampling_id);
CREATE INDEX samples_sample_order_id_idx ON samples_sample (laboratory_id, order_id);
CREATE INDEX samples_sample_control_material_id_idx ON samples_sample (laboratory_id, control_material_id);
CREATE INDEX samples_sample_site_id_idx ON samples_sample (laboratory_id, site_id);
CREATE INDEX samples_sample_received_at_idx ON samples_sample (laboratory_id, received_at);
COMMENT ON TABLE samples_sample IS 'Laboratory samples. Whoever changes what concerns one locks its row.';
COMMENT ON COLUMN samples_sample.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN samples_sample.sample_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN samples_sample.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN samples_sample.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN samples_sample.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN samples_sample.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN samples_sample.purpose IS 'customer, control, proficiency, kit-acceptance, competence or validation.';
COMMENT ON COLUMN samples_sample.lot_id IS 'The lot it stands for.';
COMMENT ON COLUMN samples_sample.sampling_id IS 'How it was taken.';
COMMENT ON COLUMN samples_sample.order_id IS 'The order.';
COMMENT ON COLUMN samples_sample.control_material_id IS 'The control material it is, where it is one.';
COMMENT ON COLUMN samples_sample.site_id IS 'The place of the laboratory that has it.';
COMMENT ON COLUMN samples_sample.received_at IS 'When the laboratory got it.';
COMMENT ON COLUMN samples_sample.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN samples_sample.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE samples_sample ENABLE ROW LEVEL SECURITY;
CREATE POLICY samples_sample_tenant ON samples_sample TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON samples_sample TO assize_service;

CREATE TABLE samples_barcode (
    laboratory_id integer NOT NULL,
    barcode text NOT NULL,
    sample_id uuid NOT NULL,
    PRIMARY KEY (laboratory_id, barcode),
    CONSTRAINT samples_barcode_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory,
    CONSTRAINT samples_barcode_sample_id_fkey FOREIGN KEY (laboratory_id, sample_id) REFERENCES samples_sample
);
CREATE INDEX samples_barcode_sample_id_idx ON samples_barcode (laboratory_id, sample_id);
COMMENT ON TABLE samples_barcode IS 'Barcodes of samples.';
COMMENT ON COLUMN samples_barcode.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN samples_barcode.barcode IS 'What the scanner reads; one sample in the laboratory.';
COMMENT ON COLUMN samples_barcode.sample_id IS 'The sample.';
ALTER TABLE samples_barcode ENABLE ROW LEVEL SECURITY;
CREATE POLICY samples_barcode_tenant ON samples_barcode TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, DELETE ON samples_barcode TO assize_service;
