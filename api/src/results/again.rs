//! Whose change asks for results to be computed again, and of which samples.
//!
//! Promises that a run counts that names a kit lot or a reader by what is printed on it, also where
//! it did so before the lot or the reader was registered, and that a run without a sample counts by
//! itself.

use uuid::Uuid;

/// Whose change asks for results to be computed again, and so which samples.
#[derive(Debug, Clone, Copy)]
pub enum Again {
    /// All samples with a run on the kit lot, or that names its number.
    KitLot(Uuid),
    /// All samples with a run by the procedure.
    Procedure(Uuid),
    /// All samples with a run on the reader, or that names its serial number.
    Reader(Uuid),
    /// All samples that were prepared or diluted with the equipment, or whose result names it.
    Equipment(Uuid),
    /// All samples with a run in the series.
    Series(Uuid),
    /// All other samples in the series of the run; of a control run also those in the series of the
    /// eleven after it in its group, whose rules look back at it.
    Run(Uuid),
    /// All samples in a series with a control run of the material, or whose result names it.
    ControlMaterial(Uuid),
    /// All samples with a run of the analyst.
    Account(Uuid),
    /// All samples with results: a limit was adopted or retired.
    Limits,
    /// One sample.
    Sample(Uuid),
    /// All samples of the lot.
    Lot(Uuid),
    /// All samples that came from the sampling.
    Sampling(Uuid),
    /// All samples of the order.
    Order(Uuid),
}

/// The other runs of a run's series; of a control run also those of the series of the eleven
/// control runs after it in its group.
const SERIES_OF_A_RUN: &str = "\
    WITH one AS (SELECT run.*, sample.control_material_id, sample.purpose \
     FROM runs_run AS run LEFT JOIN samples_sample AS sample \
     ON sample.laboratory_id = run.laboratory_id \
     AND sample.sample_id = run.sample_id \
     WHERE run.laboratory_id = $1 AND run.run_id = $3), \
    later AS (SELECT other.series_id FROM one JOIN samples_sample AS sample \
     ON sample.laboratory_id = one.laboratory_id AND sample.purpose = 'control' \
     AND sample.control_material_id = one.control_material_id \
     JOIN runs_run AS other ON other.laboratory_id = sample.laboratory_id \
     AND other.sample_id = sample.sample_id AND other.state = 'recorded' \
     AND other.kit_lot_id = one.kit_lot_id AND other.reader_id = one.reader_id \
     AND other.content->>'procedure' = one.content->>'procedure' \
     AND other.read_at >= one.read_at AND other.run_id <> one.run_id \
     WHERE one.purpose = 'control' ORDER BY other.read_at LIMIT 11), \
    concerned AS (SELECT series_id FROM later UNION SELECT series_id FROM one) \
    SELECT run.sample_id, run.run_id FROM runs_run AS run, one \
     WHERE run.laboratory_id = $1 AND run.run_id <> one.run_id \
     AND run.sample_id IS DISTINCT FROM one.sample_id \
     AND run.series_id IN (SELECT series_id FROM concerned)";

/// Samples prepared with a piece of equipment, runs diluted with it, and, of a pipette, samples
/// whose result took it for one that stands there.
const USED_WITH_EQUIPMENT: &str = "\
    SELECT sample_id, NULL::uuid AS run_id FROM preparations_preparation \
     WHERE laboratory_id = $1 AND content->'equipment' ? $3::text UNION \
     SELECT sample_id, run_id FROM runs_run \
     WHERE laboratory_id = $1 AND (content->'dilution' @> \
     jsonb_build_array(jsonb_build_object('pipette', $3::text)) \
     OR content->'dilution' @> \
     jsonb_build_array(jsonb_build_object('diluent_pipette', $3::text))) UNION \
     SELECT sample_id, NULL FROM results_result WHERE laboratory_id = $1 \
     AND state <> 'cancelled' AND state <> 'superseded' AND content->'from' @> \
     jsonb_build_array(jsonb_build_object('subject', $3::text)) \
     AND EXISTS (SELECT FROM equipment_item WHERE laboratory_id = $1 \
     AND equipment_id = $3 AND content->>'kind' = 'pipette')";

impl Again {
    /// A query for the samples, and for the runs in case that they have none; `$3` is the cause.
    pub(super) const fn query(self) -> &'static str {
        match self {
            Self::KitLot(_) => {
                "SELECT sample_id, run_id FROM runs_run \
                 WHERE laboratory_id = $1 AND kit_lot_id = $3 UNION \
                 SELECT run.sample_id, run.run_id FROM runs_run AS run \
                   JOIN kit_lots_kit_lot AS lot ON lot.laboratory_id = run.laboratory_id \
                    AND lot.kit_lot_id = $3 AND lot.code = run.content->>'kit_lot_code' \
                  WHERE run.laboratory_id = $1 AND run.kit_lot_id IS NULL"
            }
            Self::Procedure(_) => {
                "SELECT sample_id, run_id FROM runs_run \
                 WHERE laboratory_id = $1 AND content->>'procedure' = $3::text"
            }
            Self::Reader(_) => {
                "SELECT sample_id, run_id FROM runs_run \
                 WHERE laboratory_id = $1 AND reader_id = $3 UNION \
                 SELECT run.sample_id, run.run_id FROM runs_run AS run \
                   JOIN readers_reader AS reader ON reader.laboratory_id = run.laboratory_id \
                    AND reader.reader_id = $3 AND reader.serial = run.content->>'reader_serial' \
                  WHERE run.laboratory_id = $1 AND run.reader_id IS NULL"
            }
            Self::Equipment(_) => USED_WITH_EQUIPMENT,
            Self::Series(_) => {
                "SELECT sample_id, run_id FROM runs_run \
                 WHERE laboratory_id = $1 AND series_id = $3"
            }
            Self::Run(_) => SERIES_OF_A_RUN,
            Self::ControlMaterial(_) => {
                "SELECT run.sample_id, run.run_id FROM runs_run AS run WHERE run.laboratory_id = $1 \
                 AND run.series_id IN (SELECT control.series_id FROM runs_run AS control \
                   JOIN samples_sample AS sample ON sample.laboratory_id = control.laboratory_id \
                    AND sample.sample_id = control.sample_id \
                  WHERE control.laboratory_id = $1 AND sample.control_material_id = $3) UNION \
                 SELECT sample_id, NULL FROM results_result WHERE laboratory_id = $1 \
                  AND state <> 'cancelled' AND state <> 'superseded' AND content->'from' @> \
                   jsonb_build_array(jsonb_build_object('subject', $3::text)) \
                  AND EXISTS (SELECT FROM procedures_procedure WHERE laboratory_id = $1 \
                    AND content->'bias' @> \
                   jsonb_build_array(jsonb_build_object('control_material', $3::text)))"
            }
            Self::Account(_) => {
                "SELECT sample_id, run_id FROM runs_run WHERE laboratory_id = $1 \
                 AND content->>'analyst' = $3::text"
            }
            Self::Limits => {
                "SELECT sample_id, NULL::uuid AS run_id FROM results_result WHERE laboratory_id = $1 \
                 AND state <> 'cancelled' AND state <> 'superseded' AND $3::uuid IS NOT NULL"
            }
            Self::Sample(_) => {
                "SELECT sample_id, NULL::uuid AS run_id FROM samples_sample WHERE laboratory_id = $1 AND sample_id = $3"
            }
            Self::Lot(_) => {
                "SELECT sample_id, NULL::uuid AS run_id FROM samples_sample WHERE laboratory_id = $1 AND lot_id = $3"
            }
            Self::Sampling(_) => {
                "SELECT sample_id, NULL::uuid AS run_id FROM samples_sample WHERE laboratory_id = $1 AND sampling_id = $3"
            }
            Self::Order(_) => {
                "SELECT sample.sample_id, NULL::uuid AS run_id FROM samples_sample AS sample LEFT JOIN lots_lot AS lot \
                   ON lot.laboratory_id = sample.laboratory_id AND lot.lot_id = sample.lot_id \
                 WHERE sample.laboratory_id = $1 \
                   AND (sample.order_id = $3 OR lot.order_id = $3)"
            }
        }
    }
}
