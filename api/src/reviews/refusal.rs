//! What a review is refused with, in words that name every result and run.

use crate::error::ApiError;
use domain::{
    id::RunId,
    results::ResultError,
    reviews::{ReviewError, StillHeld},
};
use std::fmt::Write as _;
use uuid::Uuid;

/// The refusal that the caller reads.
pub(super) fn of_review(refused: ReviewError) -> ApiError {
    match refused {
        ReviewError::Faults(faults) => ApiError::Invalid(faults),
        ReviewError::NoSuchResults(absent) => ApiError::field(
            "/results",
            format!(
                "There is no result {} in this laboratory. Look it up in the list.",
                listed(absent)
            ),
        ),
        ReviewError::Stale(changed) => {
            let each = changed.iter().map(|one| {
                format!(
                    "{} (you saw version {}, the newest is {})",
                    one.result, one.shown, one.now
                )
            });
            ApiError::Stale(format!(
                "Changed since it was shown: result {}. Look at it again, then sign.",
                listed(each)
            ))
        }
        ReviewError::UnknownAnalyst(runs) => ApiError::refused(
            "analyst-unknown",
            format!(
                "Nobody can say that you are somebody else than the analyst of run {}: it is not \
                 known. Correct it first.",
                listed(runs)
            ),
        ),
        ReviewError::OwnWork(runs) => own_work(runs),
        ReviewError::Held(held) => ApiError::refused("held", held_text(&held)),
    }
}

fn own_work(runs: Vec<RunId>) -> ApiError {
    ApiError::refused(
        "own-work",
        format!(
            "You worked, entered or corrected run {}. A second person must sign.",
            listed(runs)
        ),
    )
}

fn held_text(held: &[StillHeld]) -> String {
    let mut text = "Nothing was released, for what is held must be lifted first.".to_owned();
    for one in held {
        for hold in &one.holds {
            // Writing to a String cannot fail.
            let _ = write!(
                text,
                " Result {}: {} ({}). {}",
                one.result,
                hold.detail,
                hold.kind.word(),
                hold.kind.remedy()
            );
        }
    }
    text
}

/// A result whose state does not allow it.
pub(super) fn of_result(result: Uuid, refused: &ResultError) -> ApiError {
    ApiError::refused(
        "not-in-this-state",
        format!("Result {result}: {refused}. Nothing was signed."),
    )
}

/// Results that are still to be computed again.
pub(crate) fn computation_due(samples: &[Uuid]) -> ApiError {
    ApiError::refused(
        "computation-due",
        format!(
            "Something that the results of sample {} depend on has changed, and they have not been \
             computed again yet. Wait a moment, look at them again, then go on.",
            listed(samples)
        ),
    )
}

fn listed(items: impl IntoIterator<Item = impl ToString>) -> String {
    let texts: Vec<String> = items.into_iter().map(|item| item.to_string()).collect();
    texts.join(", ")
}
