//! What becomes of the holds of one thing when the facts about it are looked at again.
//!
//! Promises that every hold it is given is kept or lifted, none is forgotten; that reconciling
//! twice changes nothing the second time; that what a person placed is never lifted by a rule, and
//! what a reviewer accepted is not raised again while its facts are the same.

use super::{Held, Hold, HoldDraft, HoldState, LiftedBy, RaisedBy};
use crate::id::HoldId;

/// A hold that is recorded already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExistingHold {
    /// Its id.
    pub id: HoldId,
    /// What it says.
    pub hold: Hold,
}

/// A hold to be lifted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lift {
    /// Which one.
    pub id: HoldId,
    /// In which way.
    pub how: LiftedBy,
}

/// What is to be recorded, and what stays.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reconciliation {
    /// Holds to raise, sorted.
    pub raise: Vec<HoldDraft>,
    /// Holds that stay as they are, sorted by id.
    pub keep: Vec<HoldId>,
    /// Holds to lift, sorted by id.
    pub lift: Vec<Lift>,
}

/// Compares the holds that are recorded of one thing with what its facts say now.
///
/// `how` says what brought the change: a correction, another run, or a fact recorded later. Holds
/// of other things among `existing` are kept and otherwise left alone.
///
/// A hold is the same as a draft where kind, analyte and detail are equal: where a fact that it
/// quotes has changed, the old one is lifted and a new one raised, so that an acceptance never
/// covers facts that the reviewer did not see.
///
/// ```
/// use domain::holds::{reconcile, ExistingHold, Held, Hold, HoldDraft, HoldKind, LiftedBy};
/// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
/// let of = Held::Run(id.parse()?);
/// let missing = HoldDraft::new(HoldKind::NoSample, "the run names no sample");
/// let first = reconcile(&[], of, &[missing.clone()], LiftedBy::LaterFact);
/// assert_eq!(first.raise, [missing.clone()]);
/// let hold = Hold::raise(of, None, missing, vec![]);
/// let existing = [ExistingHold { id: id.parse()?, hold }];
/// let assigned = reconcile(&existing, of, &[], LiftedBy::Correction);
/// assert_eq!(assigned.lift[0].how, LiftedBy::Correction);
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn reconcile(
    existing: &[ExistingHold],
    of: Held,
    drafts: &[HoldDraft],
    how: LiftedBy,
) -> Reconciliation {
    let mut raise = drafts.to_vec();
    raise.sort_unstable();
    raise.dedup();
    // What stands, or was accepted as it is, need not be raised again.
    raise.retain(|draft| {
        !existing
            .iter()
            .any(|one| answers(one, of) && one.hold.says() == *draft)
    });
    let mut outcome = Reconciliation {
        raise,
        ..Reconciliation::default()
    };
    for one in existing {
        let by_rule = one.hold.raised_by == RaisedBy::Rule;
        let stands = one.hold.of == of && one.hold.state() == HoldState::Raised;
        if stands && by_rule && !drafts.contains(&one.hold.says()) {
            outcome.lift.push(Lift { id: one.id, how });
        } else {
            outcome.keep.push(one.id);
        }
    }
    outcome.keep.sort_unstable();
    outcome.lift.sort_unstable_by_key(|lift| lift.id);
    outcome
}

/// Whether a recorded hold answers a draft of the same words: it stands, or was accepted.
fn answers(one: &ExistingHold, of: Held) -> bool {
    let accepted = |how: LiftedBy| match how {
        LiftedBy::Acceptance => true,
        LiftedBy::Correction | LiftedBy::AnotherRun | LiftedBy::LaterFact => false,
    };
    one.hold.of == of
        && one.hold.raised_by == RaisedBy::Rule
        && one
            .hold
            .lifted
            .as_ref()
            .is_none_or(|lifted| accepted(lifted.how))
}
