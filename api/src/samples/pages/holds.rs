//! The holds of a sample: what each means, what lifts it, and how those that are gone were lifted.

use super::store::Names;
use crate::{
    db::Tx,
    error::Answer,
    kept::Kept,
    pages::{Frame, analyte, capital, plain},
    results::Dossier,
};
use domain::{
    holds::{Held, Hold, HoldState, LiftedBy, RaisedBy},
    id::AccountId,
};

/// A hold, as an item.
pub(super) struct HoldView {
    /// What is amiss, in a word.
    pub(super) kind: String,
    /// What it holds.
    pub(super) of: String,
    /// The facts.
    pub(super) detail: String,
    /// What the kind means.
    pub(super) explanation: &'static str,
    /// Why a person placed it, and who.
    pub(super) placed: String,
    /// What lifts it.
    pub(super) remedy: &'static str,
    /// Whether a reviewer may accept it, with a reason.
    pub(super) acceptable: bool,
    /// How it was lifted, as HTML; empty while it stands.
    pub(super) lifted: String,
    /// `hold:version`, as the form that accepts it sends it.
    pub(super) shown: String,
    /// Whether the visitor is asked to accept it.
    pub(super) asked: Asked,
}

/// Whether whoever looks at a hold may accept it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    /// Nobody can, or the visitor's roles do not allow it.
    No,
    /// It is about their own work.
    OwnWork,
    /// They may.
    Yes,
}

/// Finds out for each hold whether this person may accept it.
pub(super) async fn ask(
    tx: &mut Tx,
    views: &mut [HoldView],
    dossier: &Dossier,
    reviewer: Option<AccountId>,
) -> Answer<()> {
    let Some(reviewer) = reviewer else {
        return Ok(());
    };
    for view in views.iter_mut().filter(|view| view.acceptable) {
        let Some(hold) = dossier.holds.iter().find(|hold| view.shown == shown(hold)) else {
            continue;
        };
        let involved = crate::holds::involved(tx, &hold.content).await?;
        view.asked = if involved.contains(&reviewer) {
            Asked::OwnWork
        } else {
            Asked::Yes
        };
    }
    Ok(())
}

fn shown(hold: &Kept<Hold>) -> String {
    format!("{}:{}", hold.id, hold.version)
}

/// The holds that stand, or those that were lifted.
pub(super) fn of(frame: &Frame, names: &Names, dossier: &Dossier, lifted: bool) -> Vec<HoldView> {
    dossier
        .holds
        .iter()
        .map(|kept| (kept, &kept.content))
        .filter(|(_, hold)| (hold.state() == HoldState::Lifted) == lifted)
        .map(|(kept, hold)| HoldView {
            kind: capital(&plain(hold.kind.word())),
            of: held(frame, dossier, hold),
            detail: capital(&hold.detail),
            explanation: hold.kind.explanation(),
            placed: match (hold.raised_by, &hold.reason) {
                (RaisedBy::Account(by), Some(reason)) => {
                    format!("Placed by {}: {reason}", names.of(by.0))
                }
                (RaisedBy::Account(by), None) => format!("Placed by {}.", names.of(by.0)),
                (RaisedBy::Rule, _) => String::new(),
            },
            remedy: hold.kind.remedy(),
            acceptable: hold.kind.acceptable(),
            lifted: how(frame, names, hold),
            shown: shown(kept),
            asked: Asked::No,
        })
        .collect()
}

fn held(frame: &Frame, dossier: &Dossier, hold: &Hold) -> String {
    let about = hold
        .analyte
        .map(|one| format!(", {}", analyte(one)))
        .unwrap_or_default();
    match hold.of {
        Held::Run(id) => {
            let read_at = dossier
                .runs
                .iter()
                .find(|run| run.id == id.0)
                .and_then(|run| run.content.entry.read_at)
                .map(|at| {
                    at.utc()
                        .with_timezone(&frame.zone)
                        .format("%H:%M")
                        .to_string()
                });
            match read_at {
                Some(at) => format!("run read at {at}{about}"),
                None => format!("run{about}"),
            }
        }
        Held::Result(_) => format!("result{about}"),
        Held::Sample(_) => "the whole sample".to_owned(),
    }
}

fn how(frame: &Frame, names: &Names, hold: &Hold) -> String {
    let Some(lifted) = &hold.lifted else {
        return String::new();
    };
    let way = match lifted.how {
        LiftedBy::Correction => "Lifted by a correction",
        LiftedBy::AnotherRun => "Lifted by another run",
        LiftedBy::LaterFact => "Lifted by what was recorded later",
        LiftedBy::Acceptance => "Accepted",
    };
    let by = lifted
        .by
        .map(|by| format!(" by {}", names.of(by.0)))
        .unwrap_or_default();
    let reason = lifted
        .reason
        .as_ref()
        .map(|reason| format!(": {reason}"))
        .unwrap_or_default();
    format!(
        "{way}{}, {}{}",
        crate::pages::escape(&by),
        frame.moment(lifted.at),
        crate::pages::escape(&reason)
    )
}
