// @generated automatically by Diesel CLI.

diesel::table! {
    certificates_certificate (laboratory_id, certificate_id) {
        laboratory_id -> Int4,
        certificate_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        number -> Text,
        code -> Text,
        lot_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    certificates_counter (laboratory_id, year) {
        laboratory_id -> Int4,
        year -> Int2,
        issued -> Int4,
    }
}

diesel::table! {
    certificates_document (laboratory_id, certificate_id) {
        laboratory_id -> Int4,
        certificate_id -> Uuid,
        certificate -> Text,
        renderer -> Nullable<Text>,
        pdf -> Nullable<Bytea>,
        proof -> Nullable<Text>,
    }
}

diesel::table! {
    certificates_result (laboratory_id, certificate_id, result_id) {
        laboratory_id -> Int4,
        certificate_id -> Uuid,
        result_id -> Uuid,
        result_version -> Int4,
    }
}

diesel::table! {
    column_maps_column_map (laboratory_id, column_map_id) {
        laboratory_id -> Int4,
        column_map_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        name -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    control_materials_control_material (laboratory_id, control_material_id) {
        laboratory_id -> Int4,
        control_material_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        expires_on -> Date,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    corrections_correction (laboratory_id, correction_id) {
        laboratory_id -> Int4,
        correction_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        subject_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    customers_customer (laboratory_id, customer_id) {
        laboratory_id -> Int4,
        customer_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    equipment_check (laboratory_id, check_id) {
        laboratory_id -> Int4,
        check_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        equipment_id -> Nullable<Uuid>,
        reader_id -> Nullable<Uuid>,
        checked_at -> Timestamptz,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    equipment_item (laboratory_id, equipment_id) {
        laboratory_id -> Int4,
        equipment_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        kind -> Text,
        site_id -> Nullable<Uuid>,
        due_on -> Nullable<Date>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    erasures_erasure (laboratory_id, erasure_id) {
        laboratory_id -> Int4,
        erasure_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    holds_hold (laboratory_id, hold_id) {
        laboratory_id -> Int4,
        hold_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        kind -> Text,
        subject_id -> Uuid,
        sample_id -> Nullable<Uuid>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    idempotency_answer (laboratory_id, caller_id, method, path, idempotency_key) {
        laboratory_id -> Int4,
        caller_id -> Uuid,
        method -> Text,
        path -> Text,
        idempotency_key -> Text,
        fingerprint -> Bytea,
        status -> Int2,
        headers -> Jsonb,
        body -> Bytea,
        answered_at -> Timestamptz,
    }
}

diesel::table! {
    identity_account (laboratory_id, account_id) {
        laboratory_id -> Int4,
        account_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        login -> Text,
        password_hash -> Text,
        failed_attempts -> Int4,
        locked_until -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    identity_client (laboratory_id, client_id) {
        laboratory_id -> Int4,
        client_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        secret_hash -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    imports_import (laboratory_id, import_id) {
        laboratory_id -> Int4,
        import_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        column_map_id -> Uuid,
        digest -> Text,
        fingerprints -> Bytea,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    imports_row (laboratory_id, row_id) {
        laboratory_id -> Int4,
        row_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        import_id -> Uuid,
        line -> Int4,
        text_digest -> Bytea,
        run_id -> Nullable<Uuid>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    imports_upload (laboratory_id, digest) {
        laboratory_id -> Int4,
        digest -> Text,
        bytes -> Bytea,
        media_type -> Nullable<Text>,
        uploaded_at -> Timestamptz,
        erased -> Bool,
    }
}

diesel::table! {
    kit_lots_kit_lot (laboratory_id, kit_lot_id) {
        laboratory_id -> Int4,
        kit_lot_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        expires_on -> Date,
        procedure_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    laboratories_laboratory (laboratory_id) {
        laboratory_id -> Int4,
        id -> Uuid,
        slug -> Text,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    laboratories_reference (laboratory_id) {
        laboratory_id -> Int4,
        stamp -> Int8,
    }
}

diesel::table! {
    ledger_act (laboratory_id, act_id) {
        laboratory_id -> Int4,
        act_id -> Uuid,
        action -> Text,
        actor -> Jsonb,
        recorded_at -> Timestamptz,
        record_count -> Int4,
        entry -> Text,
        records -> Bytea,
    }
}

diesel::table! {
    ledger_anchor (laboratory_id, log_number, size, party) {
        laboratory_id -> Int4,
        log_number -> Int4,
        size -> Int8,
        party -> Text,
        kind -> Text,
        content -> Bytea,
        query -> Nullable<Bytea>,
        obtained_at -> Timestamptz,
    }
}

diesel::table! {
    ledger_checkpoint (laboratory_id, log_number, size) {
        laboratory_id -> Int4,
        log_number -> Int4,
        size -> Int8,
        root -> Bytea,
        note -> Text,
        signed_at -> Timestamptz,
    }
}

diesel::table! {
    ledger_disclosure (laboratory_id, digest) {
        laboratory_id -> Int4,
        digest -> Text,
        disclosure -> Text,
        act_id -> Uuid,
    }
}

diesel::table! {
    ledger_entry (laboratory_id, log_number, entry_index) {
        laboratory_id -> Int4,
        log_number -> Int4,
        entry_index -> Int8,
        act_id -> Uuid,
    }
}

diesel::table! {
    ledger_head (laboratory_id, log_number) {
        laboratory_id -> Int4,
        log_number -> Int4,
        size -> Int8,
        unfinished -> Array<Nullable<Bytea>>,
        signed_size -> Int8,
    }
}

diesel::table! {
    ledger_key (laboratory_id, key_id) {
        laboratory_id -> Int4,
        key_id -> Uuid,
        key_use -> Text,
        thumbprint -> Text,
        public_key -> Bytea,
        sealed_private_key -> Bytea,
        version -> Int4,
        retired -> Bool,
    }
}

diesel::table! {
    ledger_key_span (laboratory_id, key_id) {
        laboratory_id -> Int4,
        key_id -> Uuid,
        announced_by -> Uuid,
        withdrawn_by -> Nullable<Uuid>,
        from_log -> Nullable<Int4>,
        from_entry -> Nullable<Int8>,
        until_log -> Nullable<Int4>,
        until_entry -> Nullable<Int8>,
        signs -> Bool,
    }
}

diesel::table! {
    ledger_log (laboratory_id, log_number) {
        laboratory_id -> Int4,
        log_number -> Int4,
        origin -> Text,
        log_id -> Uuid,
        began_at -> Timestamptz,
        follows_size -> Nullable<Int8>,
        follows_root -> Nullable<Bytea>,
    }
}

diesel::table! {
    ledger_pending (laboratory_id, pending_id) {
        laboratory_id -> Int4,
        pending_id -> Int8,
        act_id -> Uuid,
        pending_since -> Timestamptz,
    }
}

diesel::table! {
    ledger_tile (laboratory_id, log_number, level, tile_index) {
        laboratory_id -> Int4,
        log_number -> Int4,
        level -> Int2,
        tile_index -> Int8,
        hashes -> Bytea,
    }
}

diesel::table! {
    ledger_version (laboratory_id, subject_id, version) {
        laboratory_id -> Int4,
        subject_id -> Uuid,
        version -> Int4,
        act_id -> Uuid,
        position -> Int2,
        record_hash -> Bytea,
    }
}

diesel::table! {
    limits_limit (laboratory_id, limit_id) {
        laboratory_id -> Int4,
        limit_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        analyte -> Text,
        jurisdiction -> Nullable<Text>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    lots_lot (laboratory_id, lot_id) {
        laboratory_id -> Int4,
        lot_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        parent_id -> Nullable<Uuid>,
        order_id -> Nullable<Uuid>,
        customer_id -> Nullable<Uuid>,
        commodity -> Text,
        arrived_on -> Date,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    lots_party (laboratory_id, lot_id, customer_id, role) {
        laboratory_id -> Int4,
        lot_id -> Uuid,
        customer_id -> Uuid,
        role -> Text,
        sees -> Text,
    }
}

diesel::table! {
    orders_order (laboratory_id, order_id) {
        laboratory_id -> Int4,
        order_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        customer_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    preparations_preparation (laboratory_id, preparation_id) {
        laboratory_id -> Int4,
        preparation_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        kind -> Text,
        sample_id -> Uuid,
        parent_id -> Nullable<Uuid>,
        prepared_at -> Timestamptz,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    procedures_procedure (laboratory_id, procedure_id) {
        laboratory_id -> Int4,
        procedure_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    readers_reader (laboratory_id, reader_id) {
        laboratory_id -> Int4,
        reader_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        serial -> Text,
        site_id -> Nullable<Uuid>,
        due_on -> Nullable<Date>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    results_recomputation (laboratory_id, recomputation_id) {
        laboratory_id -> Int4,
        recomputation_id -> Int8,
        sample_id -> Nullable<Uuid>,
        cause_id -> Uuid,
        cause_version -> Int4,
        due_since -> Timestamptz,
        run_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    results_result (laboratory_id, result_id) {
        laboratory_id -> Int4,
        result_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        sample_id -> Uuid,
        analyte -> Text,
        purpose -> Text,
        concentration -> Nullable<Numeric>,
        decision -> Nullable<Text>,
        released_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    reviews_result (laboratory_id, result_id, review_id) {
        laboratory_id -> Int4,
        result_id -> Uuid,
        review_id -> Uuid,
        result_version -> Int4,
    }
}

diesel::table! {
    reviews_review (laboratory_id, review_id) {
        laboratory_id -> Int4,
        review_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        reviewer_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    runs_run (laboratory_id, run_id) {
        laboratory_id -> Int4,
        run_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        sample_id -> Nullable<Uuid>,
        reader_id -> Nullable<Uuid>,
        port -> Int2,
        read_at -> Nullable<Timestamptz>,
        kit_lot_id -> Nullable<Uuid>,
        series_id -> Nullable<Uuid>,
        analyst_id -> Nullable<Uuid>,
        import_key -> Nullable<Text>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    samples_barcode (laboratory_id, barcode) {
        laboratory_id -> Int4,
        barcode -> Text,
        sample_id -> Uuid,
    }
}

diesel::table! {
    samples_sample (laboratory_id, sample_id) {
        laboratory_id -> Int4,
        sample_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        purpose -> Text,
        lot_id -> Nullable<Uuid>,
        sampling_id -> Nullable<Uuid>,
        order_id -> Nullable<Uuid>,
        control_material_id -> Nullable<Uuid>,
        site_id -> Nullable<Uuid>,
        received_at -> Timestamptz,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    samplings_sampling (laboratory_id, sampling_id) {
        laboratory_id -> Int4,
        sampling_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        lot_id -> Uuid,
        taken_at -> Timestamptz,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    screening_validations_review (laboratory_id, review_id) {
        laboratory_id -> Int4,
        review_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        validation_id -> Uuid,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    screening_validations_validation (laboratory_id, validation_id) {
        laboratory_id -> Int4,
        validation_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        procedure_id -> Uuid,
        analyte -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    series_series (laboratory_id, series_id) {
        laboratory_id -> Int4,
        series_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        site_id -> Nullable<Uuid>,
        kit_lot_id -> Nullable<Uuid>,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    sites_site (laboratory_id, site_id) {
        laboratory_id -> Int4,
        site_id -> Uuid,
        version -> Int4,
        state -> Text,
        content -> Jsonb,
        code -> Text,
        created_at -> Timestamptz,
        changed_at -> Timestamptz,
    }
}

diesel::joinable!(certificates_certificate -> laboratories_laboratory (laboratory_id));
diesel::joinable!(certificates_counter -> laboratories_laboratory (laboratory_id));
diesel::joinable!(certificates_document -> laboratories_laboratory (laboratory_id));
diesel::joinable!(certificates_result -> laboratories_laboratory (laboratory_id));
diesel::joinable!(column_maps_column_map -> laboratories_laboratory (laboratory_id));
diesel::joinable!(control_materials_control_material -> laboratories_laboratory (laboratory_id));
diesel::joinable!(corrections_correction -> laboratories_laboratory (laboratory_id));
diesel::joinable!(customers_customer -> laboratories_laboratory (laboratory_id));
diesel::joinable!(equipment_check -> laboratories_laboratory (laboratory_id));
diesel::joinable!(equipment_item -> laboratories_laboratory (laboratory_id));
diesel::joinable!(erasures_erasure -> laboratories_laboratory (laboratory_id));
diesel::joinable!(identity_account -> laboratories_laboratory (laboratory_id));
diesel::joinable!(identity_client -> laboratories_laboratory (laboratory_id));
diesel::joinable!(imports_import -> laboratories_laboratory (laboratory_id));
diesel::joinable!(imports_row -> laboratories_laboratory (laboratory_id));
diesel::joinable!(imports_upload -> laboratories_laboratory (laboratory_id));
diesel::joinable!(kit_lots_kit_lot -> laboratories_laboratory (laboratory_id));
diesel::joinable!(laboratories_reference -> laboratories_laboratory (laboratory_id));
diesel::joinable!(ledger_key -> laboratories_laboratory (laboratory_id));
diesel::joinable!(ledger_log -> laboratories_laboratory (laboratory_id));
diesel::joinable!(limits_limit -> laboratories_laboratory (laboratory_id));
diesel::joinable!(lots_lot -> laboratories_laboratory (laboratory_id));
diesel::joinable!(lots_party -> laboratories_laboratory (laboratory_id));
diesel::joinable!(orders_order -> laboratories_laboratory (laboratory_id));
diesel::joinable!(preparations_preparation -> laboratories_laboratory (laboratory_id));
diesel::joinable!(procedures_procedure -> laboratories_laboratory (laboratory_id));
diesel::joinable!(readers_reader -> laboratories_laboratory (laboratory_id));
diesel::joinable!(reviews_result -> laboratories_laboratory (laboratory_id));
diesel::joinable!(reviews_review -> laboratories_laboratory (laboratory_id));
diesel::joinable!(samples_barcode -> laboratories_laboratory (laboratory_id));
diesel::joinable!(samples_sample -> laboratories_laboratory (laboratory_id));
diesel::joinable!(samplings_sampling -> laboratories_laboratory (laboratory_id));
diesel::joinable!(screening_validations_review -> laboratories_laboratory (laboratory_id));
diesel::joinable!(screening_validations_validation -> laboratories_laboratory (laboratory_id));
diesel::joinable!(series_series -> laboratories_laboratory (laboratory_id));
diesel::joinable!(sites_site -> laboratories_laboratory (laboratory_id));

diesel::allow_tables_to_appear_in_same_query!(
    certificates_certificate,
    certificates_counter,
    certificates_document,
    certificates_result,
    column_maps_column_map,
    control_materials_control_material,
    corrections_correction,
    customers_customer,
    equipment_check,
    equipment_item,
    erasures_erasure,
    holds_hold,
    idempotency_answer,
    identity_account,
    identity_client,
    imports_import,
    imports_row,
    imports_upload,
    kit_lots_kit_lot,
    laboratories_laboratory,
    laboratories_reference,
    ledger_act,
    ledger_anchor,
    ledger_checkpoint,
    ledger_disclosure,
    ledger_entry,
    ledger_head,
    ledger_key,
    ledger_key_span,
    ledger_log,
    ledger_pending,
    ledger_tile,
    ledger_version,
    limits_limit,
    lots_lot,
    lots_party,
    orders_order,
    preparations_preparation,
    procedures_procedure,
    readers_reader,
    results_recomputation,
    results_result,
    reviews_result,
    reviews_review,
    runs_run,
    samples_barcode,
    samples_sample,
    samplings_sampling,
    screening_validations_review,
    screening_validations_validation,
    series_series,
    sites_site,
);
