//! Validations of screening methods and their reviews, computed again from the versions that they
//! name.
//!
//! Promises the same comparison as for results; refuses a record that names a version which is not
//! here, or which was recorded later.

use std::sync::Arc;

use super::again::{Again, Derived, Versions};
use super::recorded::{RecordedContent, RecordedVersion};
use crate::id::RunId;
use crate::screening_validations::{NamedBeside, ScreeningReview, ScreeningValidation};
use crate::versions::SubjectVersion;

impl Derived<'_> {
    pub(super) fn screening_validation(
        &self,
        said: &ScreeningValidation,
        versions: &dyn Versions,
    ) -> Result<Again, String> {
        let named = self.found(&said.from, versions)?;
        Ok(if said.again(&beside(&named))? {
            Again::Same
        } else {
            Again::Entered
        })
    }

    pub(super) fn screening_review(
        &self,
        said: &ScreeningReview,
        versions: &dyn Versions,
    ) -> Result<Again, String> {
        let named = self.found(&said.from, versions)?;
        said.again(&beside(&named))?;
        Ok(Again::Same)
    }

    /// The versions that a record names, each recorded no later.
    pub(super) fn found(
        &self,
        from: &[SubjectVersion],
        versions: &dyn Versions,
    ) -> Result<Vec<Arc<RecordedVersion>>, String> {
        let find = |named: &SubjectVersion| {
            let SubjectVersion { subject, version } = named;
            let one = versions
                .version(*named)
                .ok_or_else(|| format!("it names version {version} of {subject}, not here"))?;
            if one.entry > self.version.entry {
                return Err(format!(
                    "it names version {version} of {subject}, recorded later"
                ));
            }
            Ok(one)
        };
        from.iter().map(find).collect()
    }
}

fn beside(named: &[Arc<RecordedVersion>]) -> NamedBeside<'_> {
    let mut beside = NamedBeside::default();
    for one in named {
        if let RecordedContent::ScreeningValidation(validation) = &one.content {
            beside.validation = Some(validation);
        } else if let RecordedContent::ScreeningReview(review) = &one.content {
            beside.reviews.push(review);
        } else if let RecordedContent::Procedure(procedure) = &one.content {
            beside.procedure = Some(procedure);
        } else if let RecordedContent::Run(run) = &one.content {
            beside.runs.insert(RunId(one.source.subject), run);
        }
    }
    beside
}
