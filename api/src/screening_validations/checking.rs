//! What a validation names, looked up: its procedure, its people, its base, its runs and samples.
//!
//! Promises every fault with its pointer, and the versions that were looked at. Refuses a run that
//! does not read what is stated beside it.

use super::store;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    laboratories,
    named::{Named, Thing},
    procedures,
};
use chrono_tz::Tz;
use domain::{
    faults::Faults,
    id::RunId,
    procedures::Procedure,
    runs::Run,
    screening_validations::{
        ScreeningValidation, ScreeningValidationEntry, StudyDetermination, read_by_run,
    },
    versions::SubjectVersion,
};
use std::collections::HashMap;
use uuid::Uuid;

/// What was looked at.
pub(super) struct Looked {
    /// The versions, the base's among them.
    pub(super) from: Vec<SubjectVersion>,
    /// The validation that the study builds on.
    pub(super) base: Option<Kept<ScreeningValidation>>,
}

/// The version of a thing.
pub(super) fn version_of<T>(kept: &Kept<T>) -> Answer<SubjectVersion> {
    source(kept.id, kept.version)
}

/// A version of a subject.
pub(super) fn source(subject: Uuid, version: i32) -> Answer<SubjectVersion> {
    let version = u32::try_from(version).map_err(ApiError::internal)?;
    Ok(SubjectVersion { subject, version })
}

/// The laboratory's time zone.
pub(super) async fn zone(tx: &mut Tx) -> Answer<Tz> {
    let laboratory = laboratories::store::find(tx).await?.content;
    laboratory.time_zone.parse().map_err(ApiError::internal)
}

/// Looks up all that a validation names; `within` is the pointer of the validation in the body.
///
/// # Errors
/// [`ApiError::Invalid`] with every fault found.
pub(super) async fn check(
    tx: &mut Tx,
    entry: &ScreeningValidationEntry,
    within: &str,
) -> Answer<Looked> {
    let mut named = Named::default();
    named.add(
        Thing::Procedure,
        format!("{within}/procedure"),
        Some(entry.procedure),
    );
    for (place, account) in entry.performed_by.iter().enumerate() {
        let pointer = format!("{within}/performed_by/{place}");
        named.add(Thing::Account, pointer, Some(*account));
    }
    named.must_be_there(tx).await?;
    let procedure = procedures::store::find(tx, entry.procedure.0).await?;
    let mut faults = Faults::default();
    let measured = procedure.content.entry.range_of(entry.analyte).is_some();
    faults.require(measured, format!("{within}/analyte"), || {
        let code = &procedure.content.entry.code;
        format!("Procedure {code} does not measure {}.", entry.analyte)
    });
    let mut looked = Looked {
        from: vec![version_of(&procedure)?],
        base: None,
    };
    if let Some(id) = entry.study.base() {
        looked.base = store::maybe(tx, id.0).await?;
        match &looked.base {
            Some(base) => {
                faults.nest(within, entry.check_base(&base.content));
                looked.from.push(version_of(base)?);
            }
            None => faults.add(
                format!("{within}/study/of"),
                format!("There is no validation {id} in this laboratory. Look it up in the list."),
            ),
        }
    }
    let today = laboratories::today(tx).await?;
    for (place, one) in entry.determinations.iter().enumerate() {
        faults.require(
            one.on <= today,
            format!("{within}/determinations/{place}/on"),
            || format!("{} has not come: today is {today}.", one.on),
        );
    }
    check_samples(tx, entry, within, &mut faults).await?;
    let runs = check_runs(tx, entry, &procedure.content, within, &mut faults).await?;
    looked.from.extend(runs);
    faults.into_result()?;
    Ok(looked)
}

/// That the samples are there, and for validation or control.
async fn check_samples(
    tx: &mut Tx,
    entry: &ScreeningValidationEntry,
    within: &str,
    faults: &mut Faults,
) -> Answer<()> {
    let ids: Vec<Uuid> = entry
        .determinations
        .iter()
        .filter_map(|one| Some(one.sample?.0))
        .collect();
    if ids.is_empty() {
        return Ok(());
    }
    let found: HashMap<Uuid, String> = store::samples(tx, &ids)
        .await?
        .into_iter()
        .map(|one| (one.sample_id, one.purpose))
        .collect();
    for (place, one) in entry.determinations.iter().enumerate() {
        let Some(sample) = one.sample else { continue };
        let pointer = format!("{within}/determinations/{place}/sample");
        match found.get(&sample.0).map(String::as_str) {
            Some("validation" | "control") => {}
            Some(purpose) => faults.add(
                pointer,
                format!("The sample's purpose is {purpose}: a study takes samples for validation."),
            ),
            None => faults.add(
                pointer,
                format!("There is no sample {sample} in this laboratory. Look it up in the list."),
            ),
        }
    }
    Ok(())
}

/// That the runs read what is stated; their versions.
async fn check_runs(
    tx: &mut Tx,
    entry: &ScreeningValidationEntry,
    procedure: &Procedure,
    within: &str,
    faults: &mut Faults,
) -> Answer<Vec<SubjectVersion>> {
    let ids: Vec<Uuid> = entry
        .determinations
        .iter()
        .filter_map(|one| Some(one.run?.0))
        .collect();
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let zone = zone(tx).await?;
    let mut from = Vec::with_capacity(ids.len());
    let mut runs: HashMap<RunId, Run> = HashMap::new();
    for found in store::runs(tx, &ids).await? {
        from.push(source(found.run_id, found.version)?);
        let run = serde_json::from_value(found.content).map_err(ApiError::internal)?;
        runs.insert(RunId(found.run_id), run);
    }
    for (place, one) in entry.determinations.iter().enumerate() {
        let Some(id) = one.run else { continue };
        let at = format!("{within}/determinations/{place}");
        match runs.get(&id) {
            Some(run) => says_the_same(entry, procedure, one, run, (&at, zone), faults),
            None => faults.add(
                format!("{at}/run"),
                format!("There is no run {id} in this laboratory. Look it up in the list."),
            ),
        }
    }
    Ok(from)
}

/// That a run says what a determination states, which stands at the pointer.
fn says_the_same(
    entry: &ScreeningValidationEntry,
    procedure: &Procedure,
    stated: &StudyDetermination,
    run: &Run,
    (at, zone): (&str, Tz),
    faults: &mut Faults,
) {
    let other = run.entry.procedure.filter(|one| *one != entry.procedure);
    faults.require(other.is_none(), format!("{at}/run"), || {
        "The run was worked by another procedure.".to_owned()
    });
    let lod = procedure
        .entry
        .range_of(entry.analyte)
        .map(|range| range.lod);
    match read_by_run(run, entry.analyte, lod) {
        Ok(read) => {
            let member = if stated.value.is_some() {
                "value"
            } else {
                "below"
            };
            faults.require(read.is_stated_by(stated), format!("{at}/{member}"), || {
                let (read, stated) = (read.shown(), stated.shown());
                format!("The run read {read} µg/kg, and {stated} is stated.")
            });
        }
        Err(fault) => {
            let fault = crate::pages::capital(&fault.to_string());
            faults.add(format!("{at}/run"), format!("{fault}."));
        }
    }
    let day = run
        .entry
        .read_at
        .map(|at| at.utc().with_timezone(&zone).date_naive());
    faults.require(day == Some(stated.on), format!("{at}/on"), || match day {
        Some(day) => format!("The run was read on {day}."),
        None => "The run is not read yet.".to_owned(),
    });
    let sample = stated.sample.filter(|one| run.entry.sample != Some(*one));
    faults.require(sample.is_none(), format!("{at}/sample"), || {
        "The run is of another sample.".to_owned()
    });
}
