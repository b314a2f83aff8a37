//! Gathers the control runs of a period for a review.
//!
//! Promises each run once, in the version that was looked at, and what gave no number with the
//! reason. Refuses a control material that is not there, or not the control it is said to be.

use super::{
    checking::{source, version_of, zone},
    store::control_runs::{self, ControlRun, Sought},
};
use crate::{
    control_materials,
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    named::{Named, Thing},
    procedures,
};
use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeZone as _, Utc};
use chrono_tz::Tz;
use domain::{
    faults::Faults,
    id::{AccountId, ControlMaterialId, RunId, SampleId, ScreeningValidationId},
    quantity::Concentration,
    runs::Run,
    screening_validations::{
        ControlKind, JoinedControl, LeftOutControl, MOST_DETERMINATIONS, ReadByRun, ReviewControl,
        ReviewDraft, ReviewPeriod, ScreeningReview, ScreeningValidation, ScreeningValidationEntry,
        StudyDetermination, not_the_control, read_by_run,
    },
    statistics::StatisticsError,
};
use std::collections::BTreeSet;
use uuid::Uuid;

/// What is asked of a review.
pub(super) struct Asked<'a> {
    /// The days.
    pub(super) period: ReviewPeriod,
    /// Which material is which control.
    pub(super) controls: &'a [ReviewControl],
    /// The day of the review.
    pub(super) on: NaiveDate,
    /// Who reviews.
    pub(super) by: AccountId,
}

/// Gathers what a review is made of.
///
/// # Errors
/// [`ApiError::Invalid`] for a material that is not the control it is said to be;
/// [`ApiError::NotComputed`] for more runs than are joined at once.
pub(super) async fn gather(
    tx: &mut Tx,
    reviewed: &Kept<ScreeningValidation>,
    earlier: &[Kept<ScreeningReview>],
    asked: &Asked<'_>,
) -> Answer<ReviewDraft> {
    let entry = &reviewed.content.entry;
    let mut from = vec![version_of(reviewed)?];
    for review in earlier {
        from.push(version_of(review)?);
    }
    check_controls(tx, entry, asked.controls, &mut from).await?;
    let procedure = procedures::store::find(tx, entry.procedure.0).await?;
    from.push(version_of(&procedure)?);
    let zone = zone(tx).await?;
    let materials: Vec<Uuid> = asked
        .controls
        .iter()
        .map(|one| one.control_material.0)
        .collect();
    let sought = Sought {
        materials: &materials,
        procedure: entry.procedure.0,
        from: beginning(zone, asked.period.from)?,
        before: beginning(zone, next_day(asked.period.to)?)?,
        most: i64::try_from(MOST_DETERMINATIONS)
            .map_err(ApiError::internal)?
            .saturating_add(1),
    };
    let runs = control_runs::find(tx, &sought).await?;
    if runs.len() > MOST_DETERMINATIONS {
        return Err(ApiError::NotComputed {
            fault: StatisticsError::TooMany {
                quantity: "control runs in the period".to_owned(),
                most: MOST_DETERMINATIONS,
                given: runs.len(),
            },
            pointer: Some("/period".to_owned()),
        });
    }
    let mut draft = ReviewDraft {
        validation: ScreeningValidationId(reviewed.id),
        period: asked.period,
        on: asked.on,
        by: asked.by,
        controls: asked.controls.to_vec(),
        joined: Vec::new(),
        left_out: Vec::new(),
        from,
    };
    let known = joined_already(entry, earlier);
    let range = procedure.content.entry.range_of(entry.analyte);
    let lod = range.map(|range| range.lod);
    for run in runs {
        if !known.contains(&RunId(run.run_id)) {
            join(&mut draft, entry, run, (lod, zone))?;
        }
    }
    Ok(draft)
}

/// That each material is there, and the control that it is said to be.
async fn check_controls(
    tx: &mut Tx,
    entry: &ScreeningValidationEntry,
    controls: &[ReviewControl],
    from: &mut Vec<domain::versions::SubjectVersion>,
) -> Answer<()> {
    let mut named = Named::default();
    for (place, control) in controls.iter().enumerate() {
        let pointer = format!("/controls/{place}/control_material");
        named.add(
            Thing::ControlMaterial,
            pointer,
            Some(control.control_material),
        );
    }
    named.must_be_there(tx).await?;
    let mut faults = Faults::default();
    for (place, control) in controls.iter().enumerate() {
        let material = control_materials::store::find(tx, control.control_material.0).await?;
        from.push(version_of(&material)?);
        if let Some(why) = not_the_control(entry, control.kind, &material.content) {
            faults.add(
                format!("/controls/{place}/control_material"),
                format!("{why}."),
            );
        }
    }
    faults.into_result().map_err(ApiError::from)
}

/// The runs that the study has, or that an earlier review joined in.
fn joined_already(
    entry: &ScreeningValidationEntry,
    earlier: &[Kept<ScreeningReview>],
) -> BTreeSet<RunId> {
    let own = entry.determinations.iter().filter_map(|one| one.run);
    let joined = earlier.iter().flat_map(|review| &review.content.joined);
    own.chain(joined.filter_map(|one| one.determination.run))
        .collect()
}

/// Joins a control run in, or notes why it is left out.
fn join(
    draft: &mut ReviewDraft,
    entry: &ScreeningValidationEntry,
    found: ControlRun,
    (lod, zone): (Option<Concentration>, Tz),
) -> Answer<()> {
    let control_material = ControlMaterialId(found.control_material_id);
    let mut controls = draft.controls.iter();
    let Some(kind) = controls
        .find(|one| one.control_material == control_material)
        .map(|one| one.kind)
    else {
        return Ok(());
    };
    let run: Run = serde_json::from_value(found.content).map_err(ApiError::internal)?;
    let on = found.read_at.with_timezone(&zone).date_naive();
    let batch = found.series.unwrap_or_else(|| on.to_string());
    draft.from.push(source(found.run_id, found.version)?);
    let read = match read_by_run(&run, entry.analyte, lod) {
        Ok(ReadByRun::Value(value)) => Ok((Some(value), None)),
        Ok(ReadByRun::Below(bound)) if kind == ControlKind::Positive => Err(format!(
            "a positive that read <{bound} has no place in a mean"
        )),
        Ok(ReadByRun::Below(_)) if entry.below_counted_as.is_none() => {
            Err("the study does not say what a blank below a bound is counted as".to_owned())
        }
        Ok(ReadByRun::Below(bound)) => Ok((None, Some(bound))),
        Err(why) => Err(why.to_string()),
    };
    match read {
        Ok((value, below)) => draft.joined.push(JoinedControl {
            batch,
            control_material,
            determination: StudyDetermination {
                kind,
                on,
                value,
                below,
                laboratory: None,
                content: None,
                run: Some(RunId(found.run_id)),
                sample: Some(SampleId(found.sample_id)),
            },
        }),
        Err(why) => draft.left_out.push(LeftOutControl {
            batch,
            control_material,
            run: RunId(found.run_id),
            on,
            kind,
            why,
        }),
    }
    Ok(())
}

fn next_day(day: NaiveDate) -> Answer<NaiveDate> {
    day.checked_add_days(Days::new(1))
        .ok_or_else(|| ApiError::field("/period/to", "is the last day that there is."))
}

/// When a day begins in the laboratory.
fn beginning(zone: Tz, day: NaiveDate) -> Answer<DateTime<Utc>> {
    let midnight = day.and_time(NaiveTime::MIN);
    // Where the clocks go forward at midnight, the day begins an hour later.
    let later = midnight.checked_add_signed(chrono::TimeDelta::hours(1));
    let found = zone.from_local_datetime(&midnight).earliest();
    found
        .or_else(|| zone.from_local_datetime(&later?).earliest())
        .map(|begun| begun.with_timezone(&Utc))
        .ok_or_else(|| ApiError::internal(format!("{day} has no beginning in {zone}")))
}
