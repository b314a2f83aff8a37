-- The proof of a certificate: made once, under the first checkpoint over its act, then kept.
ALTER TABLE certificates_document ADD COLUMN proof text;
COMMENT ON COLUMN certificates_document.proof IS 'The proof file of its act, once a checkpoint covers that; never changes.';

-- The check page is told of it, and whose certificate it is, so that it can keep what it made.
DROP FUNCTION certificates_shown(text);
CREATE FUNCTION certificates_shown(wanted text)
    RETURNS TABLE (laboratory_number integer, laboratory uuid, laboratory_slug text,
        laboratory_name text, certificate_id uuid, state text, content jsonb,
        changed_at timestamptz, certificate text, renderer text, pdf bytea, proof text,
        entry text, records bytea, record_position smallint, successor_number text,
        successor_code text)
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    SELECT laboratory.laboratory_id, laboratory.id, laboratory.slug,
        laboratory.content ->> 'name', shown.certificate_id, shown.state, shown.content,
        shown.changed_at, document.certificate, document.renderer, document.pdf, document.proof,
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

-- Where the log before ended, as the record that began this one states it: verifiers ask for it.
ALTER TABLE ledger_log ADD COLUMN follows_size bigint;
ALTER TABLE ledger_log ADD COLUMN follows_root bytea;
COMMENT ON COLUMN ledger_log.follows_size IS 'Entries under the last checkpoint of the log before; none in the first log.';
COMMENT ON COLUMN ledger_log.follows_root IS 'Root of the tree over them.';
