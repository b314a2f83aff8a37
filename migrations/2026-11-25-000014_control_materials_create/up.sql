CREATE TABLE control_materials_control_material (
    laboratory_id integer NOT NULL,
    control_material_id uuid NOT NULL,
    version integer NOT NULL,
    state text NOT NULL,
    content jsonb NOT NULL,
    code text NOT NULL,
    expires_on date NOT NULL,
    created_at timestamptz NOT NULL,
    changed_at timestamptz NOT NULL,
    PRIMARY KEY (laboratory_id, control_material_id),
    CONSTRAINT control_materials_control_material_code_key UNIQUE (laboratory_id, code),
    CONSTRAINT control_materials_control_material_laboratory_fkey FOREIGN KEY (laboratory_id) REFERENCES laboratories_laboratory
);
COMMENT ON TABLE control_materials_control_material IS 'Control materials.';
COMMENT ON COLUMN control_materials_control_material.laboratory_id IS 'The laboratory that owns the row; never shown.';
COMMENT ON COLUMN control_materials_control_material.control_material_id IS 'Public id (UUID v7).';
COMMENT ON COLUMN control_materials_control_material.version IS 'Version of the subject that this row shows; its record has the same number.';
COMMENT ON COLUMN control_materials_control_material.state IS 'State, one of the words of the slice.';
COMMENT ON COLUMN control_materials_control_material.content IS 'What the newest record says, with its disclosed members in clear.';
COMMENT ON COLUMN control_materials_control_material.code IS 'Code within the laboratory, as people write it.';
COMMENT ON COLUMN control_materials_control_material.expires_on IS 'Last day of use.';
COMMENT ON COLUMN control_materials_control_material.created_at IS 'When version 1 was recorded (server clock, UTC).';
COMMENT ON COLUMN control_materials_control_material.changed_at IS 'When this version was recorded (server clock, UTC).';
ALTER TABLE control_materials_control_material ENABLE ROW LEVEL SECURITY;
CREATE POLICY control_materials_control_material_tenant ON control_materials_control_material TO assize_service
    USING (laboratory_id = (SELECT current_setting('assize.laboratory')::integer))
    WITH CHECK (laboratory_id = (SELECT current_setting('assize.laboratory')::integer));
GRANT SELECT, INSERT, UPDATE ON control_materials_control_material TO assize_service;
