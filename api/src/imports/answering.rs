//! The answer to an import: what became of the rows, and what holds the runs that they tell.

use super::{
    reading::Export,
    recording::{Done, RowOutcome, import, runs_of},
    store::known,
    wire::{ImportOutcomeView, ImportedRowView, RefusedRowView, RowHoldView},
};
use crate::{db::Tx, error::Answer, holds};
use domain::id::{ImportId, RunId};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// How many rows are listed.
const MOST_ROWS: usize = 2000;
/// How many refused rows are shown whole.
const MOST_REFUSED: usize = 1000;

/// Imports an export and tells what became of it.
///
/// # Errors
/// As [`import`].
pub(super) async fn outcome(
    tx: &mut Tx,
    id: ImportId,
    export: &Export,
    dry_run: bool,
) -> Answer<ImportOutcomeView> {
    let done = import(tx, id, export).await?;
    let runs: Vec<Uuid> = runs_of(&done.rows).into_iter().map(|run| run.0).collect();
    let held_runs = known::held(tx, &runs).await?;
    let listed = listed(&done);
    let holds = holds_of(tx, &listed).await?;
    let rows_left_out = done.rows.len().saturating_sub(listed.len());
    let rows = listed
        .into_iter()
        .map(|(line, (outcome, run))| ImportedRowView {
            line,
            outcome,
            run: run.map(|run| run.0).filter(|_| !dry_run),
            holds: run
                .and_then(|run| holds.get(&run.0))
                .map_or_else(Vec::new, |holds| {
                    holds.iter().map(RowHoldView::from).collect()
                }),
        })
        .collect();
    Ok(ImportOutcomeView {
        id: (!dry_run).then_some(id.0),
        dry_run,
        import: done.about,
        held_runs,
        rows,
        rows_left_out,
        refused: done
            .refused
            .into_values()
            .filter_map(RefusedRowView::of)
            .take(MOST_REFUSED)
            .collect(),
    })
}

type Rows = BTreeMap<u64, (RowOutcome, Option<RunId>)>;

/// The rows that are listed: those that somebody may have to look at first.
fn listed(done: &Done) -> Rows {
    if done.rows.len() <= MOST_ROWS {
        return done.rows.clone();
    }
    let is_plain = |outcome: RowOutcome| match outcome {
        RowOutcome::Recorded | RowOutcome::Same => true,
        RowOutcome::Joined | RowOutcome::Added | RowOutcome::Refused => false,
    };
    let of = |plain: bool| {
        done.rows
            .iter()
            .filter(move |(_, (outcome, _))| is_plain(*outcome) == plain)
    };
    of(false)
        .chain(of(true))
        .take(MOST_ROWS)
        .map(|(line, row)| (*line, *row))
        .collect()
}

async fn holds_of(tx: &mut Tx, listed: &Rows) -> Answer<BTreeMap<Uuid, Vec<domain::holds::Hold>>> {
    let runs: BTreeSet<Uuid> = listed
        .values()
        .filter_map(|(_, run)| run.map(|run| run.0))
        .collect();
    let runs: Vec<Uuid> = runs.into_iter().collect();
    let mut holds: BTreeMap<Uuid, Vec<_>> = BTreeMap::new();
    for hold in holds::store::of_subjects(tx, &runs).await? {
        if hold.content.lifted.is_none() {
            let subject = hold.content.of.subject();
            holds.entry(subject).or_default().push(hold.content);
        }
    }
    Ok(holds)
}
