//! Does what was decided: records runs, joins them, keeps what was refused and the upload, all in
//! the transaction that it is handed.
//!
//! Promises that every row has one outcome. Refuses an all-or-nothing export with a refused row.

use super::{
    deciding::{Decided, Decision, decide},
    fingerprints::Written,
    knowing::{self, Known},
    reading::{self, Export},
    refusing::{self, Refusals, Refused},
    registering, store,
};
use crate::{
    db::Tx,
    error::Answer,
    ids,
    kept::Kept,
    runs::{Met, NewRun, meet_again, record_all},
};
use domain::{
    column_maps::ImportMode,
    id::{ImportId, RunId, SampleId},
    imports::{ImportCounts, ImportedExport, ReadableRun, RunReading},
    runs::{ImportOrigin, Origin, Reading},
};
use std::collections::{BTreeMap, BTreeSet};

/// What became of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum RowOutcome {
    /// A new run was recorded from it; `holds` says what is amiss, where something is.
    Recorded,
    /// Its run had been typed at the bench.
    Joined,
    /// It told more of a run that was imported before.
    Added,
    /// It says what was imported before.
    Same,
    /// It was refused, and kept for mending.
    Refused,
}

/// What became of all rows.
pub(super) struct Done {
    /// What is recorded of the import.
    pub(super) about: ImportedExport,
    /// Each row, by line, with the run that it tells.
    pub(super) rows: BTreeMap<u64, (RowOutcome, Option<RunId>)>,
    /// What was refused.
    pub(super) refused: BTreeMap<u64, Refused>,
}

/// The outcomes as they come in.
pub(super) struct Progress<'a> {
    import: ImportId,
    digest: &'a str,
    rows: BTreeMap<u64, (RowOutcome, Option<RunId>)>,
    refusals: Refusals,
    written: Written,
    runs: u64,
}

impl<'a> Progress<'a> {
    /// Nothing yet.
    pub(super) fn of(import: ImportId, digest: &'a str) -> Self {
        Self {
            import,
            digest,
            rows: BTreeMap::new(),
            refusals: Refusals::new(),
            written: Written::default(),
            runs: 0,
        }
    }

    fn origins(&self, lines: &[u64]) -> Vec<Origin> {
        lines
            .iter()
            .map(|&line| {
                Origin::Import(ImportOrigin {
                    import: self.import,
                    digest: self.digest.to_owned(),
                    line,
                })
            })
            .collect()
    }

    fn took<'r>(
        &mut self,
        outcome: RowOutcome,
        run: RunId,
        lines: &[u64],
        readings: impl Iterator<Item = &'r RunReading>,
    ) {
        for line in lines {
            self.rows.insert(*line, (outcome, Some(run)));
        }
        for reading in readings {
            let analyte = reading.reading.reading.analyte;
            self.written
                .add(reading.line, analyte, &reading.fingerprint);
        }
    }

    fn refuse(&mut self, lines: &[u64], refusal: impl Fn() -> refusing::Refusal) {
        for line in lines {
            self.rows.insert(*line, (RowOutcome::Refused, None));
            self.refusals.insert(*line, refusal());
        }
    }

    /// What became of a row, and why where it was refused.
    pub(super) fn row(
        &self,
        line: u64,
    ) -> (
        Option<(RowOutcome, Option<RunId>)>,
        Option<&refusing::Refusal>,
    ) {
        (self.rows.get(&line).copied(), self.refusals.get(&line))
    }

    /// What the readings said, as it is kept.
    pub(super) fn fingerprints(&self) -> &[u8] {
        self.written.bytes()
    }
}

/// Imports an export.
///
/// # Errors
/// [`crate::error::ApiError::Invalid`] where it cannot be read at all, or the map says all or
/// nothing and a row is refused; or where the database fails.
pub(super) async fn import(tx: &mut Tx, id: ImportId, export: &Export) -> Answer<Done> {
    let grouped = export.grouped.as_ref().map_err(reading::refusal)?;
    tx.plan_for_many().await?;
    let is_whole = grouped.mode == ImportMode::AllOrNothing;
    let mut progress = Progress::of(id, &export.about.digest);
    progress.refusals = refusing::of_reading(grouped);
    if is_whole && !progress.refusals.is_empty() {
        return Err(refusing::all_or_nothing(&progress.refusals));
    }
    let registered = take(tx, &mut progress, export, &grouped.runs).await?;
    if is_whole && !progress.refusals.is_empty() {
        return Err(refusing::all_or_nothing(&progress.refusals));
    }
    for repeated in &grouped.repeated {
        let run = progress
            .rows
            .get(&repeated.first_line)
            .and_then(|(_, run)| *run);
        progress
            .rows
            .entry(repeated.line)
            .or_insert((RowOutcome::Same, run));
    }
    let refused = refusing::sort(tx, id, export, std::mem::take(&mut progress.refusals)).await?;
    for (line, one) in &refused {
        let outcome = match one {
            Refused::Mended(run) => (RowOutcome::Same, Some(*run)),
            Refused::Kept(_) | Refused::Before { .. } => (RowOutcome::Refused, None),
        };
        progress.rows.insert(*line, outcome);
    }
    let counts = ImportCounts {
        runs: progress.runs,
        samples_registered: registered,
        ..counted(&progress.rows, export.about.counts)
    };
    let about = ImportedExport {
        counts,
        ..export.about.clone()
    };
    keep(tx, id, export, &about, &refused).await?;
    store::add_fingerprints(tx, id.0, progress.fingerprints()).await?;
    Ok(Done {
        about,
        rows: progress.rows,
        refused,
    })
}

/// Decides on runs and does it; tells how many samples were registered.
pub(super) async fn take(
    tx: &mut Tx,
    progress: &mut Progress<'_>,
    export: &Export,
    runs: &[ReadableRun],
) -> Answer<u64> {
    let map = &export.map.content;
    let mut known = knowing::load(tx, runs, map.join_tolerance_seconds).await?;
    let decided = decide(runs, &known, map.join_tolerance_seconds);
    for (line, run) in &decided.same {
        progress.rows.insert(*line, (RowOutcome::Same, Some(*run)));
    }
    for (run, ids) in &decided.several {
        progress.refuse(&run.lines, || refusing::of_several(ids));
    }
    refusing::of_conflicts(tx, &decided.conflicts, &mut progress.refusals).await?;
    let registered = registering::samples(tx, &decided.decisions, &mut known).await?;
    record_new(tx, progress, &known, &decided, &map.diluent).await?;
    for decision in &decided.decisions {
        met(tx, progress, &known, decision).await?;
    }
    Ok(registered)
}

async fn record_new(
    tx: &mut Tx,
    progress: &mut Progress<'_>,
    known: &Known,
    decided: &Decided<'_>,
    diluent: &str,
) -> Answer<()> {
    let new: Vec<&ReadableRun> = decided
        .decisions
        .iter()
        .filter_map(|decision| match decision {
            Decision::Record(run) => Some(*run),
            Decision::Join { .. } | Decision::Extend { .. } => None,
        })
        .collect();
    if new.is_empty() {
        return Ok(());
    }
    let entries = new
        .iter()
        .map(|run| {
            let mut entry = run.entry(diluent);
            entry.sample = sample_of(run, known);
            if entry.sample.is_some() {
                (entry.sample_code, entry.lot_code) = (None, None);
            }
            NewRun {
                id: ids::fresh(),
                entry,
                origins: progress.origins(&run.lines),
                import_key: Some(run.identity.clone()),
                begun: false,
            }
        })
        .collect();
    let answers = record_all(tx, entries).await?;
    for (run, answer) in new.into_iter().zip(answers) {
        match answer {
            Ok(id) => {
                progress.runs = progress.runs.saturating_add(1);
                progress.took(RowOutcome::Recorded, id, &run.lines, run.readings.iter());
            }
            Err(error) => progress.refuse(&run.lines, || refusing::of_run(&error)),
        }
    }
    Ok(())
}

fn readings_of<'r>(told: impl Iterator<Item = &'r RunReading>) -> Vec<Reading> {
    told.map(|one| one.reading.reading).collect()
}

fn sample_of(run: &ReadableRun, known: &Known) -> Option<SampleId> {
    let code = run.run.sample_code.as_ref()?;
    known.samples.get(code).copied().map(SampleId)
}

/// A run that is there already.
async fn met(
    tx: &mut Tx,
    progress: &mut Progress<'_>,
    known: &Known,
    decision: &Decision<'_>,
) -> Answer<()> {
    let (outcome, lines, readings, met) = match decision {
        Decision::Record(_) => return Ok(()),
        Decision::Join {
            run,
            with,
            differences,
        } => (
            RowOutcome::Joined,
            &run.lines,
            run.readings.iter().collect::<Vec<_>>(),
            Met {
                run: *with,
                origins: progress.origins(&run.lines),
                import_key: Some(run.identity.clone()),
                sample: sample_of(run, known),
                readings: Vec::new(),
                exported: readings_of(run.readings.iter()),
                differences: differences.clone(),
            },
        ),
        Decision::Extend {
            with,
            lines,
            readings,
        } => (
            RowOutcome::Added,
            lines,
            readings.clone(),
            Met {
                run: *with,
                origins: progress.origins(lines),
                import_key: None,
                sample: None,
                readings: readings_of(readings.iter().copied()),
                exported: Vec::new(),
                differences: Vec::new(),
            },
        ),
    };
    let id = met.run;
    match meet_again(tx, met).await? {
        Ok(_) => progress.took(outcome, id, lines, readings.into_iter()),
        Err(error) => progress.refuse(lines, || refusing::of_run(&error)),
    }
    Ok(())
}

fn counted(
    rows: &BTreeMap<u64, (RowOutcome, Option<RunId>)>,
    before: ImportCounts,
) -> ImportCounts {
    let mut counts = before;
    for (outcome, _) in rows.values() {
        let count = match outcome {
            RowOutcome::Recorded => &mut counts.recorded,
            RowOutcome::Joined => &mut counts.joined,
            RowOutcome::Added => &mut counts.added,
            RowOutcome::Same => &mut counts.same,
            RowOutcome::Refused => &mut counts.refused,
        };
        *count = count.saturating_add(1);
    }
    counts
}

async fn keep(
    tx: &mut Tx,
    id: ImportId,
    export: &Export,
    about: &ImportedExport,
    refused: &BTreeMap<u64, Refused>,
) -> Answer<()> {
    store::uploads::keep(tx, &about.digest, &export.bytes, &export.media_type).await?;
    let kept = Kept::first(tx, id.0, about.clone());
    store::insert(tx, &kept).await?;
    let rows: Vec<Kept<_>> = refused
        .values()
        .filter_map(|one| match one {
            Refused::Kept(row) => Some(row.clone()),
            Refused::Before { .. } | Refused::Mended(_) => None,
        })
        .collect();
    store::rows::insert_many(tx, id.0, &rows).await
}

/// The runs that rows tell, each once.
pub(super) fn runs_of(rows: &BTreeMap<u64, (RowOutcome, Option<RunId>)>) -> BTreeSet<RunId> {
    rows.values()
        .filter(|(outcome, _)| *outcome != RowOutcome::Same)
        .filter_map(|(_, run)| *run)
        .collect()
}
