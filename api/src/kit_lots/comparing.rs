//! Compares a kit lot with the one in use, by runs of both. Refuses a lot that is not or was never
//! in use, one of another procedure, and runs that were not done with their lot.

use super::store::{self, LotRun};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    named::{Named, Thing},
    procedures,
};
use domain::{
    id::{KitLotId, RunId},
    kit_lots::{KitLot, KitLotComparison, KitLotComparisonInput, compare},
    procedures::Procedure,
    results::Facts,
    runs::Run,
    versions::SubjectVersion,
};
use uuid::Uuid;

/// Runs of both lots, as a request names them.
pub(super) struct NamedRuns<'a> {
    pub(super) compared_with: KitLotId,
    pub(super) runs: &'a [RunId],
    pub(super) compared_runs: &'a [RunId],
}

/// The lot in use that another is compared with, and the procedure of both.
pub(super) struct Beside {
    pub(super) used: Kept<KitLot>,
    procedure: Kept<Procedure>,
}

fn source(subject: Uuid, version: i32) -> SubjectVersion {
    SubjectVersion {
        subject,
        version: u32::try_from(version).unwrap_or(1),
    }
}

/// Finds the lot in use, and refuses one that cannot be compared with.
pub(super) async fn beside(
    tx: &mut Tx,
    lot: &Kept<KitLot>,
    compared_with: KitLotId,
) -> Answer<Beside> {
    let mut named = Named::default();
    let pointer = "/compared_with".to_owned();
    named.add(Thing::KitLot, pointer, Some(compared_with));
    named.must_be_there(tx).await?;
    let used = store::find(tx, compared_with.0).await?;
    if used.id == lot.id {
        let detail = "A kit lot is compared with another one. Name the lot that is in use.";
        return Err(ApiError::field("/compared_with", detail));
    }
    lot.content.comparable_with(&used.content)?;
    let procedure = procedures::store::find(tx, lot.content.entry.procedure.0).await?;
    Ok(Beside { used, procedure })
}

/// The comparison by the runs that a request names.
pub(super) async fn by_named_runs(
    tx: &mut Tx,
    lot: &Kept<KitLot>,
    named: NamedRuns<'_>,
) -> Answer<KitLotComparison> {
    let beside = beside(tx, lot, named.compared_with).await?;
    super::must_be_runs_of(tx, lot.id, named.runs, "/runs").await?;
    super::must_be_runs_of(tx, beside.used.id, named.compared_runs, "/compared_runs").await?;
    let runs = store::runs_by_id(tx, named.runs).await?;
    let compared_runs = store::runs_by_id(tx, named.compared_runs).await?;
    compared(lot, &beside, &runs, &compared_runs)
}

/// The comparison of these runs.
pub(super) fn compared(
    lot: &Kept<KitLot>,
    beside: &Beside,
    runs: &[LotRun],
    compared_runs: &[LotRun],
) -> Answer<KitLotComparison> {
    let read = |runs: &[LotRun]| -> Answer<Vec<(SubjectVersion, Run)>> {
        let each = runs.iter().map(|run| {
            let content = serde_json::from_value(run.content.clone());
            let content = content.map_err(ApiError::internal)?;
            Ok((source(run.run_id, run.version), content))
        });
        each.collect()
    };
    let (runs, compared_runs) = (read(runs)?, read(compared_runs)?);
    let runs: Vec<Facts<'_, Run>> = runs.iter().map(as_facts).collect();
    let compared_runs: Vec<Facts<'_, Run>> = compared_runs.iter().map(as_facts).collect();
    let (used, procedure) = (&beside.used, &beside.procedure);
    compare(&KitLotComparisonInput {
        lot: &lot.content.entry,
        compared_with: Facts {
            source: source(used.id, used.version),
            content: &used.content.entry,
        },
        procedure: Facts {
            source: source(procedure.id, procedure.version),
            content: &procedure.content.entry,
        },
        runs: &runs,
        compared_runs: &compared_runs,
    })
    .map_err(|fault| {
        let detail = format!("The kit lots cannot be compared: {fault}. Look at the runs.");
        ApiError::refused("kit-lot-comparison", detail)
    })
}

fn as_facts((source, content): &(SubjectVersion, Run)) -> Facts<'_, Run> {
    Facts {
        source: *source,
        content,
    }
}
