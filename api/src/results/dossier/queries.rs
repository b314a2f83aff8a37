//! The queries by which a sample's dossier is read.
//!
//! Promises that what belongs to a sample is read by its own query, to be sent after the one that
//! locks the sample's row.

use std::sync::LazyLock;

const SAMPLES: &str = "\
    SELECT 'sample' AS kind, sample_id AS id, NULL::uuid AS sample_id, version, content, \
           created_at, changed_at, NULL::bytea AS record_hash \
      FROM samples_sample WHERE laboratory_id = $1 AND sample_id = ANY($2) \
     ORDER BY sample_id";

/// The samples' lots and samplings; the samples' orders and the lots'. [`WORK`] follows.
const GOODS: &str = "\
    WITH wanted AS (SELECT DISTINCT lot_id, order_id, sampling_id FROM samples_sample \
                     WHERE laboratory_id = $1 AND sample_id = ANY($2)), \
         lots AS (SELECT * FROM lots_lot \
                   WHERE laboratory_id = $1 AND lot_id IN (SELECT lot_id FROM wanted)) \
    SELECT 'lot' AS kind, lot_id AS id, NULL::uuid AS sample_id, version, content, created_at, \
           changed_at, NULL::bytea AS record_hash FROM lots UNION ALL \
    SELECT 'sampling', sampling_id, NULL, version, content, created_at, changed_at, NULL \
      FROM samplings_sampling WHERE laboratory_id = $1 AND sampling_id IN \
        (SELECT sampling_id FROM wanted) UNION ALL \
    SELECT 'order', order_id, NULL, version, content, created_at, changed_at, NULL \
      FROM orders_order WHERE laboratory_id = $1 AND order_id IN \
        (SELECT order_id FROM wanted UNION SELECT order_id FROM lots) UNION ALL";

/// What was done with the samples; of what may be followed by a later version, the record's hash.
const WORK: &str = " \
    SELECT 'preparation', preparation_id, sample_id, version, content, created_at, changed_at, \
           NULL \
      FROM preparations_preparation WHERE laboratory_id = $1 AND sample_id = ANY($2) UNION ALL \
    SELECT 'run', run_id, sample_id, version, content, created_at, changed_at, NULL \
      FROM runs_run WHERE laboratory_id = $1 AND sample_id = ANY($2) UNION ALL \
    SELECT 'result', result.result_id, result.sample_id, result.version, result.content, \
           result.created_at, result.changed_at, record.record_hash \
      FROM results_result AS result LEFT JOIN ledger_version AS record \
        ON record.laboratory_id = result.laboratory_id \
       AND record.subject_id = result.result_id AND record.version = result.version \
     WHERE result.laboratory_id = $1 AND result.sample_id = ANY($2) UNION ALL \
    SELECT 'hold', hold.hold_id, run.sample_id, hold.version, hold.content, hold.created_at, \
           hold.changed_at, record.record_hash \
      FROM runs_run AS run JOIN holds_hold AS hold \
        ON hold.laboratory_id = run.laboratory_id AND hold.subject_id = run.run_id \
      LEFT JOIN ledger_version AS record ON record.laboratory_id = hold.laboratory_id \
       AND record.subject_id = hold.hold_id AND record.version = hold.version \
     WHERE run.laboratory_id = $1 AND run.sample_id = ANY($2) UNION ALL \
    SELECT 'hold', hold.hold_id, hold.sample_id, hold.version, hold.content, hold.created_at, \
           hold.changed_at, record.record_hash \
      FROM holds_hold AS hold LEFT JOIN ledger_version AS record \
        ON record.laboratory_id = hold.laboratory_id \
       AND record.subject_id = hold.hold_id AND record.version = hold.version \
     WHERE hold.laboratory_id = $1 AND hold.sample_id = ANY($2) \
       AND NOT hold.content->'of' ? 'run'";

/// Which samples are asked for: one by an equality, for which PostgreSQL has one good plan.
const MANY: &str = "= ANY($2)";
const ONE: &str = "= $2";

/// A query for many samples, and the same for one.
pub(super) struct Queries {
    pub(super) many: String,
    pub(super) one: String,
}

impl Queries {
    fn of(parts: &[&str]) -> Self {
        let many = parts.concat();
        let one = many.replace(MANY, ONE);
        Self { many, one }
    }
}

pub(super) static LOOK: LazyLock<Queries> = LazyLock::new(|| Queries::of(&[SAMPLES]));
pub(super) static LOCK: LazyLock<Queries> =
    LazyLock::new(|| Queries::of(&[SAMPLES, " FOR UPDATE"]));
pub(super) static REST: LazyLock<Queries> = LazyLock::new(|| Queries::of(&[GOODS, WORK]));
