//! One validation as a page: its answer, its figures, its determinations, its reviews.

use super::{
    figures::{self, Figure, percent},
    state_word,
};
use crate::{
    db::Tx,
    error::Answer,
    identity,
    kept::Kept,
    pages::{Frame, Tone, aligned, analyte, capital, escape, word},
    procedures,
    screening_validations::{picture, standing::Standing},
};
use askama::Template;
use domain::{
    screening_validations::{
        ControlKind, ScreeningResponse, ScreeningReview, ScreeningValidationEntry,
        ScreeningValidationState, StudyDetermination,
    },
    statistics::screening::is_suspect,
};

/// A determination, as a row.
struct DeterminationRow {
    kind: &'static str,
    on: String,
    laboratory: String,
    content: String,
    value: String,
    side: &'static str,
    origin: String,
}

/// A review, as a row.
struct ReviewRow {
    on: String,
    period: String,
    joined: usize,
    left_out: usize,
    missed: u32,
    before: String,
    after: String,
    in_time: String,
}

/// The page.
#[derive(Template)]
#[template(path = "screening_validations/validation.html")]
pub(super) struct ValidationPage {
    frame: Frame,
    code: String,
    answer: String,
    state: String,
    unit: &'static str,
    facts: Vec<(&'static str, String)>,
    figures: Vec<Figure>,
    remarks: Vec<String>,
    picture: String,
    determinations: Vec<DeterminationRow>,
    between: bool,
    reviews: Vec<ReviewRow>,
}

/// Reads the page.
pub(super) async fn read(tx: &mut Tx, frame: Frame, standing: Standing) -> Answer<ValidationPage> {
    let entry = &standing.kept.content.entry;
    let report = standing.report.as_ref();
    let shown = picture::Shown {
        determinations: &entry.determinations,
        response: entry.response,
        cut_off: report.map(|report| report.cut_off),
        target: entry.screening_target,
    };
    let rows = determinations(&standing);
    Ok(ValidationPage {
        code: entry.code.clone(),
        answer: answer(&standing),
        state: state_word(standing.kept.content.state),
        unit: entry.response.unit().unwrap_or("signal"),
        facts: facts(tx, &standing).await?,
        figures: report.map_or_else(Vec::new, |one| figures::of(one, entry.response)),
        remarks: report.map_or_else(Vec::new, |one| one.remarks.clone()),
        picture: picture::draw(&shown),
        between: entry
            .determinations
            .iter()
            .any(|one| one.laboratory.is_some()),
        determinations: rows,
        reviews: standing.reviews.iter().map(review_row).collect(),
        frame,
    })
}

/// The first line: what may be decided by it, or what it lacks.
fn answer(standing: &Standing) -> String {
    let entry = &standing.kept.content.entry;
    if standing.kept.content.state == ScreeningValidationState::Draft {
        return match &standing.missing {
            Some(missing) => format!("Not complete: {missing}."),
            None => "Complete: the quality manager may adopt it.".to_owned(),
        };
    }
    if let Some(why) = &standing.not_usable {
        return format!("No procedure may decide by it: {why}.");
    }
    let Some(cut_off) = standing.cut_off() else {
        return "It has no cut-off.".to_owned();
    };
    let side = match entry.response {
        ScreeningResponse::Concentration => format!("over {cut_off} µg/kg"),
        ScreeningResponse::RisingSignal => format!("over a signal of {cut_off}"),
        ScreeningResponse::FallingSignal => format!("under a signal of {cut_off}"),
    };
    let rate = standing
        .report
        .as_ref()
        .and_then(|one| one.false_suspect_rate);
    let rate = rate.map_or_else(String::new, |rate| {
        format!("; of blanks, {} are expected to be", percent(rate))
    });
    format!(
        "A sample {side} is suspect of {} at the target of {} µg/kg{rate}.",
        analyte(entry.analyte),
        entry.screening_target
    )
}

async fn facts(tx: &mut Tx, standing: &Standing) -> Answer<Vec<(&'static str, String)>> {
    let validation = &standing.kept.content;
    let entry = &validation.entry;
    let procedure = procedures::store::find(tx, entry.procedure.0).await?;
    let procedure = &procedure.content.entry;
    let mut people = Vec::new();
    for account in &entry.performed_by {
        people.push(identity::account(tx, *account).await?.content.printed_name);
    }
    let mut facts = vec![
        (
            "Procedure",
            escape(&format!("{}, {}", procedure.code, procedure.title)),
        ),
        ("Analyte", analyte(entry.analyte).to_owned()),
        ("Goods", entry.commodity_group.name().to_owned()),
        ("Study", capital(entry.study.name())),
        ("By", escape(&entry.law.name_with_place())),
        (
            "Screening target",
            format!("{} µg/kg", entry.screening_target),
        ),
        ("Determined by", escape(&people.join(", "))),
    ];
    if let Some(adoption) = &validation.adoption {
        let name = identity::account(tx, adoption.by).await?;
        let name = name.content.printed_name;
        facts.push(("Adopted", escape(&format!("on {} by {name}", adoption.on))));
    }
    if let Some(due) = standing.review_due_on {
        let late = due < standing.today;
        let tone = if late { Tone::Bad } else { Tone::Good };
        let text = if late { "overdue since" } else { "due until" };
        facts.push(("Next review", word(tone, &format!("{text} {due}"))));
    }
    Ok(facts)
}

fn determinations(standing: &Standing) -> Vec<DeterminationRow> {
    let entry = &standing.kept.content.entry;
    let findings: Vec<String> = entry
        .determinations
        .iter()
        .map(StudyDetermination::shown)
        .collect();
    let contents: Vec<String> = entry
        .determinations
        .iter()
        .map(|one| {
            one.content
                .map_or_else(String::new, |content| content.to_string())
        })
        .collect();
    entry
        .determinations
        .iter()
        .zip(aligned(&findings))
        .zip(aligned(&contents))
        .map(|((one, value), content)| DeterminationRow {
            kind: match one.kind {
                ControlKind::Negative => "blank",
                ControlKind::Positive => "at the target",
            },
            on: one.on.to_string(),
            laboratory: one
                .laboratory
                .map_or_else(String::new, |one| one.to_string()),
            content,
            value,
            side: side(standing, entry, one),
            origin: origin(one),
        })
        .collect()
}

fn side(
    standing: &Standing,
    entry: &ScreeningValidationEntry,
    one: &StudyDetermination,
) -> &'static str {
    let cut_off = standing.report.as_ref().map(|report| report.cut_off);
    match (one.value, cut_off) {
        (Some(value), Some(cut_off)) => {
            if is_suspect(value.0, cut_off.0, entry.response.direction()) {
                "suspect"
            } else {
                "negative"
            }
        }
        (None, Some(_)) => "negative",
        (_, None) => "",
    }
}

/// Where a determination was recorded: its run, else its sample.
fn origin(one: &StudyDetermination) -> String {
    let run = one.run.map(|run| format!("run {run}"));
    let sample = one.sample.map(|sample| format!("sample {sample}"));
    run.or(sample).unwrap_or_default()
}

fn review_row(kept: &Kept<ScreeningReview>) -> ReviewRow {
    let review = &kept.content;
    let report = &review.report;
    ReviewRow {
        on: review.on.to_string(),
        period: format!("{} to {}", review.period.from, review.period.to),
        joined: review.joined.len(),
        left_out: review.left_out.len(),
        missed: report.missed_positives,
        before: report.before.rounded_cut_off.to_string(),
        after: report.after.rounded_cut_off.to_string(),
        in_time: if report.in_time {
            word(Tone::Good, "in time")
        } else {
            word(Tone::Bad, &format!("late: due on {}", report.due_on))
        },
    }
}
