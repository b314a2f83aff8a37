//! Lifting a hold: by a rule that no longer finds it, or by a reviewer's reasoned acceptance.
//!
//! Refuses an acceptance of a kind that allows none, without a reason, by the person whose work it
//! is, or of a hold that is lifted already.

use super::{Hold, HoldKind, Lifted, LiftedBy, RULES};
use crate::entries;
use crate::faults::Faults;
use crate::id::AccountId;
use crate::time::Moment;
use crate::versions::{SubjectVersion, in_order};

/// Why a hold is not lifted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AcceptanceError {
    /// It is lifted already.
    #[error("the hold {kind} is lifted already")]
    Lifted {
        /// Its kind.
        kind: HoldKind,
    },
    /// Its kind allows no acceptance.
    #[error("nobody can accept a hold of the kind {kind}. {}", .kind.remedy())]
    NotAcceptable {
        /// Its kind.
        kind: HoldKind,
    },
    /// The reviewer did the work that is held, or entered or corrected it.
    #[error("who did, entered or corrected the work cannot accept a hold on it")]
    OwnWork,
    /// The reason is missing or no text.
    #[error("an acceptance needs a reason")]
    Reason(#[from] Faults),
}

impl Hold {
    /// The hold, lifted by a reviewer who accepts what is amiss, with a reason.
    ///
    /// `involved` are the analysts of the runs concerned and who entered or corrected them.
    ///
    /// # Errors
    /// [`AcceptanceError`].
    ///
    /// ```
    /// use domain::holds::{AcceptanceError, Held, Hold, HoldDraft, HoldKind};
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    /// let at = "2026-03-01T10:00:00Z".parse()?;
    /// let hold = |kind| Hold::raise(Held::Run(id.parse().unwrap()), None,
    ///     HoldDraft::new(kind, "65 min; at most 60 min"), vec![]);
    /// let (analyst, reviewer) = (id.parse()?, "019ca869-5003-7d46-b59c-6cf85cca57e5".parse()?);
    /// let old = hold(HoldKind::ExtractTooOld);
    /// assert!(old.accept(reviewer, &[analyst], "stable for 2 h, see validation", at).is_ok());
    /// assert!(matches!(old.accept(analyst, &[analyst], "fine", at),
    ///     Err(AcceptanceError::OwnWork)));
    /// assert!(matches!(hold(HoldKind::NoSample).accept(reviewer, &[], "fine", at),
    ///     Err(AcceptanceError::NotAcceptable { .. })));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn accept(
        &self,
        by: AccountId,
        involved: &[AccountId],
        reason: &str,
        at: Moment,
    ) -> Result<Self, AcceptanceError> {
        let kind = self.kind;
        if self.lifted.is_some() {
            return Err(AcceptanceError::Lifted { kind });
        }
        if !kind.acceptable() {
            return Err(AcceptanceError::NotAcceptable { kind });
        }
        if involved.contains(&by) {
            return Err(AcceptanceError::OwnWork);
        }
        let mut faults = Faults::default();
        entries::text(&mut faults, "/reason", reason, entries::TEXT_LENGTH);
        faults.into_result()?;
        Ok(Self {
            lifted: Some(Lifted {
                how: LiftedBy::Acceptance,
                by: Some(by),
                at,
                reason: Some(reason.to_owned()),
            }),
            ..self.clone()
        })
    }

    /// The hold, lifted because what it says is no longer so.
    ///
    /// # Errors
    /// [`AcceptanceError::Lifted`].
    ///
    /// ```
    /// use domain::holds::{Held, Hold, HoldDraft, HoldKind, LiftedBy};
    /// let at = "2026-03-01T10:00:00Z".parse()?;
    /// let run = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
    /// let draft = HoldDraft::new(HoldKind::NoSample, "the run names no sample");
    /// let hold = Hold::raise(Held::Run(run), None, draft, vec![]);
    /// let lifted = hold.lift(LiftedBy::Correction, None, at)?;
    /// assert!(lifted.lift(LiftedBy::Correction, None, at).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn lift(
        &self,
        how: LiftedBy,
        by: Option<AccountId>,
        at: Moment,
    ) -> Result<Self, AcceptanceError> {
        if self.lifted.is_some() {
            return Err(AcceptanceError::Lifted { kind: self.kind });
        }
        if how == LiftedBy::Acceptance {
            // An acceptance goes through `accept`, which asks who and why.
            return Err(AcceptanceError::NotAcceptable { kind: self.kind });
        }
        let reason = None;
        Ok(Self {
            lifted: Some(Lifted {
                how,
                by,
                at,
                reason,
            }),
            ..self.clone()
        })
    }

    /// The hold, lifted by the rules: from these versions they no longer find what it says.
    ///
    /// # Errors
    /// [`AcceptanceError::Lifted`].
    ///
    /// ```
    /// use domain::holds::{Held, Hold, HoldDraft, HoldKind, LiftedBy};
    /// use domain::versions::SubjectVersion;
    /// let at = "2026-03-01T10:00:00Z".parse()?;
    /// let run = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?;
    /// let draft = HoldDraft::new(HoldKind::NoSample, "the run names no sample");
    /// let hold = Hold::raise(Held::Run(run), None, draft, vec![]);
    /// let later = SubjectVersion { subject: run.0, version: 2 };
    /// let lifted = hold.no_longer_found(LiftedBy::Correction, vec![later], at)?;
    /// assert_eq!(lifted.from, [later]);
    /// assert!(lifted.no_longer_found(LiftedBy::Correction, vec![later], at).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn no_longer_found(
        &self,
        how: LiftedBy,
        from: Vec<SubjectVersion>,
        at: Moment,
    ) -> Result<Self, AcceptanceError> {
        Ok(Self {
            from: in_order(from),
            rules: RULES,
            ..self.lift(how, None, at)?
        })
    }
}
