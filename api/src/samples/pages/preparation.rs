//! The preparation of a sample, step by step, in the order of time.

use super::store::Names;
use crate::{
    pages::{Frame, capital},
    results::{Dossier, Reference},
};
use domain::preparations::{Clarification, Preparation};

/// A step, as a row.
pub(super) struct StepView {
    /// Ground sample, test portion or extract.
    pub(super) kind: String,
    /// When, as HTML.
    pub(super) at: String,
    /// By whom.
    pub(super) by: String,
    /// Amounts, liquids and times.
    pub(super) how: String,
    /// Codes of the equipment.
    pub(super) equipment: String,
}

/// The steps.
pub(super) fn of(
    frame: &Frame,
    reference: &Reference,
    names: &Names,
    dossier: &Dossier,
) -> Vec<StepView> {
    let mut steps: Vec<&Preparation> = dossier
        .preparations
        .iter()
        .map(|(_, shared)| &shared.content)
        .collect();
    steps.sort_by_key(|step| step.at);
    steps
        .into_iter()
        .map(|step| StepView {
            kind: capital(step.kind.name()),
            at: frame.moment(step.at),
            by: step
                .by
                .map_or_else(|| "not known".to_owned(), |by| names.of(by.0).to_owned()),
            how: how(step),
            equipment: step
                .equipment
                .iter()
                .filter_map(|id| reference.equipment.get(&id.0))
                .map(|item| item.content.code.clone())
                .collect::<Vec<_>>()
                .join(", "),
        })
        .collect()
}

fn how(step: &Preparation) -> String {
    let mut parts = Vec::new();
    parts.extend(step.mass_g.map(|mass| format!("{mass} g")));
    for liquid in &step.liquids {
        let volume = liquid
            .volume_ml
            .map(|volume| format!("{volume} mL of "))
            .unwrap_or_default();
        parts.push(format!("{volume}{} (lot {})", liquid.name, liquid.lot));
    }
    parts.extend(step.shaking_s.map(|time| format!("shaken for {time} s")));
    let way = step.clarification.map(|way| match way {
        Clarification::Filter => "filtered",
        Clarification::Centrifuge => "centrifuged",
    });
    let volume = step
        .clarified_volume_ml
        .map(|volume| format!("{volume} mL clear"));
    parts.extend(way.map(ToOwned::to_owned));
    parts.extend(volume);
    parts.extend(step.comment.clone());
    parts.join(", ")
}
