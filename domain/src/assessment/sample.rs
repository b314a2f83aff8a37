//! What is amiss with a sample as a whole, and which versions that came from.

use super::Dossier;
use crate::holds::{HoldDraft, evaluate_sample_by};
use crate::lots::Lot;
use crate::results::{Facts, UnknownRules};
use crate::samplings::{PlanCheck, plan_check};
use crate::versions::{SubjectVersion, in_order};

/// Everything that bears on a sample as a whole.
#[derive(Debug, Clone, Copy)]
pub struct SampleBackground<'a> {
    dossier: &'a Dossier<'a>,
}

impl<'a> SampleBackground<'a> {
    /// Looks at how the sample of a dossier was taken.
    #[must_use]
    pub const fn of(dossier: &'a Dossier<'a>) -> Self {
        Self { dossier }
    }

    /// The lot that the sampling was taken from, where that is the sample's.
    fn lot(&self) -> Option<Facts<'a, Lot>> {
        let sampling = self.dossier.sampling?.content;
        self.dossier
            .lot
            .filter(|lot| lot.source.subject == sampling.lot.0)
    }

    /// The sampling that the sample came from, against the plan that it names.
    #[must_use]
    pub fn plan_check(&self) -> Option<PlanCheck> {
        let sampling = self.dossier.sampling?.content;
        let lot = self.lot().map(|lot| lot.content);
        let sample = self.dossier.sample.content;
        Some(plan_check(sampling, lot, Some(sample)))
    }

    /// The holds of the sample by the rules of a number.
    ///
    /// # Errors
    /// [`UnknownRules`].
    pub fn holds(&self, rules: u32) -> Result<Vec<HoldDraft>, UnknownRules> {
        evaluate_sample_by(rules, self.plan_check().as_ref())
    }

    /// Every version that its holds came from, sorted by subject.
    #[must_use]
    pub fn sources(&self) -> Vec<SubjectVersion> {
        let mut from = vec![self.dossier.sample.source];
        from.extend(self.dossier.sampling.map(|sampling| sampling.source));
        from.extend(self.lot().map(|lot| lot.source));
        in_order(from)
    }
}
