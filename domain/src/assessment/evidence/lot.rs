//! How the lot of a result was tested, for its doubt.
//!
//! Promises the masses that are recorded on the way to the run: what was ground, else the whole
//! sample where nothing is said of that, and the test portion; each version is named. What is not
//! recorded stays absent.

use rust_decimal::Decimal;

use super::Evidence;
use crate::id::RunId;
use crate::preparations::{Preparation, PreparationKind};
use crate::quantity::Number;
use crate::results::{Facts, LotTest};
use crate::versions::SubjectVersion;

impl Evidence<'_> {
    /// What the order asks about the lot, with the masses of the run's preparation.
    pub(super) fn test_of_lot(
        &self,
        run: RunId,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<LotTest> {
        let order = self.dossier.order?.content;
        let asked = order.lot_uncertainty_of(self.analyte)?;
        let mut runs = self.dossier.runs.iter();
        let entry = &runs.find(|recorded| recorded.id() == run)?.run.entry;
        let extract = self.extract_of(entry, from);
        let portion = self.before(extract, PreparationKind::TestPortion, from);
        let ground = self.before(portion, PreparationKind::GroundSample, from);
        let sample = self.dossier.sample.content;
        let mass_g = ground.and_then(|step| step.content.mass_g);
        let sample_mass_kg = mass_g
            .or(sample.mass_g)
            .and_then(|mass| mass.0.checked_div(Decimal::ONE_THOUSAND))
            .map(|mass| Number(mass.normalize()));
        let lot = self.dossier.lot.map(|lot| &lot.content.commodity);
        let commodity = lot.unwrap_or(&sample.commodity);
        let kinds = self.shared.commodity_line(commodity);
        let declined = asked.model.speaks_of(self.analyte, commodity, kinds).err();
        Some(LotTest {
            asked: asked.clone(),
            sample_mass_kg,
            test_portion_g: portion.and_then(|step| step.content.mass_g),
            declined: declined.map(|fault| fault.to_string()),
        })
    }

    /// What a step was made from, where that is of a kind.
    fn before(
        &self,
        step: Option<Facts<'_, Preparation>>,
        kind: PreparationKind,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<Facts<'_, Preparation>> {
        let parent = self.dossier.preparation(step?.content.parent?)?;
        from.push(parent.source);
        Some(parent).filter(|parent| parent.content.kind == kind)
    }
}
