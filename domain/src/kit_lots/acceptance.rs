//! Accepting a kit lot on a comparison with the one in use.
//!
//! Promises that where the procedure states a criterion, a lot is accepted on what bears it out, or
//! with a reason. Refuses everything else; rejecting a lot is no part of it, and always possible.

use super::{KitLot, KitLotComparison, KitLotError, KitLotState, KitLotVerdict};
use crate::id::RunId;
use crate::procedures::KitLotCriterion;

impl KitLot {
    /// As [`Self::accept`], on a comparison with the lot in use. Where the procedure states a
    /// criterion for an analyte of the lot, an acceptance without a comparison, or one that the
    /// comparison does not bear out, needs a reason.
    ///
    /// # Errors
    /// [`KitLotError::Not`] unless it is quarantined; [`KitLotError::NotBorneOut`].
    ///
    /// ```
    /// use domain::kit_lots::KitLot;
    /// use domain::procedures::KitLotCriterion;
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// let analyte = serde_json::to_string(&lot.entry.analytes[0].analyte)?;
    /// let criterion: KitLotCriterion = serde_json::from_str(&format!(
    ///     r#"{{"analyte":{analyte},"largest_fraction":"0.1","minimum_pairs":5}}"#))?;
    /// assert!(lot.accept_compared(vec![], None, &[], false).is_ok());
    /// assert!(lot.accept_compared(vec![], None, &[criterion], false).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn accept_compared(
        &self,
        runs: Vec<RunId>,
        comparison: Option<KitLotComparison>,
        criteria: &[KitLotCriterion],
        has_reason: bool,
    ) -> Result<Self, KitLotError> {
        let accepted = self.accept(runs)?;
        let is_asked = criteria
            .iter()
            .any(|criterion| self.entry.range_of(criterion.analyte).is_some());
        if let Some(why) = not_borne_out(comparison.as_ref(), is_asked).filter(|_| !has_reason) {
            return Err(KitLotError::NotBorneOut {
                code: self.entry.code.clone(),
                why,
            });
        }
        Ok(Self {
            comparison,
            ..accepted
        })
    }

    /// Whether it can be compared with another lot: one that is or was in use, by the same
    /// procedure.
    ///
    /// # Errors
    /// [`KitLotError::NotComparable`].
    ///
    /// ```
    /// use domain::kit_lots::KitLot;
    /// let lot = KitLot::quarantine(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert!(lot.comparable_with(&lot.accept(vec![])?).is_ok());
    /// assert!(lot.comparable_with(&lot).is_err(), "it is not in use");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn comparable_with(&self, used: &Self) -> Result<(), KitLotError> {
        let refuse = |why: String| {
            Err(KitLotError::NotComparable {
                code: self.entry.code.clone(),
                with: used.entry.code.clone(),
                why,
            })
        };
        match used.state {
            KitLotState::Accepted | KitLotState::Exhausted => {}
            KitLotState::Quarantined | KitLotState::Rejected | KitLotState::Recalled => {
                return refuse(format!("it is {}", used.state.word()));
            }
        }
        if used.entry.procedure != self.entry.procedure {
            return refuse("it is used by another procedure".to_owned());
        }
        Ok(())
    }
}

/// Why a comparison does not bear an acceptance out; none where it does, or need not.
fn not_borne_out(comparison: Option<&KitLotComparison>, is_asked: bool) -> Option<String> {
    let Some(comparison) = comparison else {
        let why = "its procedure states how far a new lot may lie from the one in use: compare it \
            with that one by runs of the same samples, or say why it is accepted without";
        return is_asked.then(|| why.to_owned());
    };
    match comparison.verdict {
        KitLotVerdict::Agrees | KitLotVerdict::NoCriterion => return None,
        KitLotVerdict::CannotTell | KitLotVerdict::Differs => {}
    }
    let said = comparison.analytes.iter().filter_map(|one| one.against());
    let said: Vec<String> = said.collect();
    Some(format!(
        "the comparison does not bear its acceptance out ({}): measure more pairs, reject it, or \
         say why it is accepted all the same",
        said.join("; ")
    ))
}
