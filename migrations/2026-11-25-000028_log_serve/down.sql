ALTER TABLE ledger_log DROP COLUMN follows_root;
ALTER TABLE ledger_log DROP COLUMN follows_size;
DROP FUNCTION certificates_shown(text);
CREATE FUNCTION certificates_shown(wanted text)
    RETURNS TABLE (laboratory uuid, laboratory_name text, certificate_id uuid, state text,
        content jsonb, changed_at timestamptz, certificate text, renderer text, pdf bytea,
        entry text, records bytea, record_position smallint, successor_number text,
        successor_code text)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    SELECT laboratory.id, laboratory.content ->> 'name', shown.certificate_id, shown.state,
        shown.content, shown.changed_at, document.certificate, document.renderer, document.pdf,
        act.entry, act.records, first.position, successor.number, successor.code
    FROM certificates_certificate AS shown
    JOIN laboratories_laboratory AS laboratory USING (laboratory_id)
    JOIN certificates_document AS document USING (laboratory_id, certificate_id)
    JOIN ledger_version AS first ON first.laboratory_id = shown.laboratory_id
        AND first.subject_id = shown.certificate_id AND first.version = 1
    JOIN ledger_act AS act ON act.laboratory_id = first.laboratory_id AND act.act_id = first.act_id
    LEFT JOIN certificates_certificate AS successor
        ON successor.laboratory_id = shown.laboratory_id
        AND successor.certificate_id = (shown.content ->> 'by')::uuid
    WHERE shown.code = wanted
$$;
REVOKE ALL ON FUNCTION certificates_shown(text) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION certificates_shown(text) TO assize_public;
ALTER TABLE certificates_document DROP COLUMN proof;
