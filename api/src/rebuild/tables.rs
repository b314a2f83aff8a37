//! Every table of the database: what of it is built again from the records and compared, and why
//! what is not, is not. A test refuses a table that is not here.

/// A table, and what of it the records tell.
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// What becomes of it.
    pub part: Part,
}

/// What becomes of a table.
pub enum Part {
    /// It is built again; each column that is not, with the reason.
    ReadModel(&'static [(&'static str, &'static str)]),
    /// It is no part of the read model, for this reason.
    NotReadModel(&'static str),
}

const SIGN_IN: &str = "credentials enter no record";
const QUEUE: &str = "work that waits; it is empty once the work is done";
const LOG: &str = "the log; verifying an archive of it computes it again from the entries";
const SOURCE: &str = "a source of the rebuilding itself";

const fn read_model(name: &'static str) -> Table {
    read_model_but(name, &[])
}

const fn read_model_but(name: &'static str, but: &'static [(&'static str, &'static str)]) -> Table {
    let part = Part::ReadModel(but);
    Table { name, part }
}

const fn not(name: &'static str, why: &'static str) -> Table {
    let part = Part::NotReadModel(why);
    Table { name, part }
}

/// All tables, in the order of their names.
pub const TABLES: &[Table] = &[
    not("__diesel_schema_migrations", "which migrations were run"),
    read_model("certificates_certificate"),
    read_model("certificates_counter"),
    read_model_but(
        "certificates_document",
        &[
            ("renderer", "goes with the PDF"),
            ("pdf", "a copy that may be deleted and made again"),
            ("proof", "made from the log, the same each time"),
        ],
    ),
    read_model("certificates_result"),
    read_model("column_maps_column_map"),
    read_model("control_materials_control_material"),
    read_model("corrections_correction"),
    read_model("customers_customer"),
    read_model("equipment_check"),
    read_model("equipment_item"),
    read_model("erasures_erasure"),
    read_model("holds_hold"),
    not(
        "idempotency_answer",
        "what was answered, for a repeat; kept for some days",
    ),
    read_model_but(
        "identity_account",
        &[
            ("password_hash", SIGN_IN),
            (
                "failed_attempts",
                "counts refused sign-ins until a good one",
            ),
            ("locked_until", "goes with the refused sign-ins"),
        ],
    ),
    read_model_but("identity_client", &[("secret_hash", SIGN_IN)]),
    read_model("imports_import"),
    read_model("imports_row"),
    not(
        "imports_upload",
        "bytes as they came; a source, under the digest in the record",
    ),
    read_model("kit_lots_kit_lot"),
    read_model("laboratories_laboratory"),
    not(
        "laboratories_reference",
        "a stamp by which cached copies know that they are stale",
    ),
    // Its columns are compared with the entry in each row, while the acts are read.
    not("ledger_act", SOURCE),
    not(
        "ledger_anchor",
        "what parties outside signed of checkpoints",
    ),
    not("ledger_checkpoint", LOG),
    not("ledger_disclosure", SOURCE),
    not("ledger_entry", LOG),
    not("ledger_head", LOG),
    read_model_but(
        "ledger_key",
        &[("sealed_private_key", "no private key enters a record")],
    ),
    not(
        "ledger_key_span",
        "from which entry to which a key is good, by the log",
    ),
    read_model("ledger_log"),
    not("ledger_pending", QUEUE),
    not("ledger_tile", LOG),
    read_model("ledger_version"),
    read_model("limits_limit"),
    read_model("lots_lot"),
    read_model("lots_party"),
    read_model("orders_order"),
    read_model("preparations_preparation"),
    read_model("procedures_procedure"),
    read_model("readers_reader"),
    not("results_recomputation", QUEUE),
    read_model("results_result"),
    read_model("reviews_result"),
    read_model("reviews_review"),
    read_model("runs_run"),
    read_model("samples_barcode"),
    read_model("samples_sample"),
    read_model("samplings_sampling"),
    read_model("screening_validations_review"),
    read_model("screening_validations_validation"),
    read_model("series_series"),
    read_model("sites_site"),
];

/// The tables that are built again, each with the columns that are left out.
pub(super) fn rebuilt() -> impl Iterator<Item = (&'static str, Vec<&'static str>)> {
    TABLES.iter().filter_map(|table| match table.part {
        Part::ReadModel(but) => {
            let left_out = but.iter().map(|(column, _)| *column).collect();
            Some((table.name, left_out))
        }
        Part::NotReadModel(_) => None,
    })
}
