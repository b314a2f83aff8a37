//! A derived record, computed again from exactly the versions that it names, and compared.
//!
//! Promises that the rules whose number the record names are the ones that compute. What a person
//! entered (a hold that was placed, an acceptance, a release) is not computed; what stands beside
//! it in the same record is.

use std::collections::HashMap;
use std::sync::Arc;

use serde_json::Value;
use uuid::Uuid;

use super::recorded::{RecordedContent, RecordedVersion};
use super::sources::{Goods, NamedVersions};
use super::{LimitsThatApply, RunBackground, SampleBackground, compute_result};
use crate::analytes::Analyte;
use crate::holds::{Held, Hold, HoldDraft, LiftedBy, RaisedBy, result_holds, results_rules};
use crate::id::{ResultId, RunId, SampleId};
use crate::results::{ComputedResult, ResultState, ResultVersion};
use crate::time::Moment;
use crate::versions::SubjectVersion;

/// Where the versions are found that a record names.
pub trait Versions {
    /// A version of a subject; none where it is not there, or cannot be read.
    fn version(&self, named: SubjectVersion) -> Option<Arc<RecordedVersion>>;
    /// When version 1 of a subject was recorded.
    fn begun(&self, subject: Uuid) -> Option<Moment>;
}

/// What became of a derived record that was looked at again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Again {
    /// Computed again: it says the same.
    Same,
    /// Entered by a person: nothing to compute.
    Entered,
}

/// A derived record as it is to be computed again.
#[derive(Debug, Clone, Copy)]
pub struct Derived<'a> {
    /// What it says.
    pub version: &'a RecordedVersion,
    /// When the act was done that recorded it.
    pub time: Moment,
}

impl Derived<'_> {
    /// Computes it again and compares.
    ///
    /// # Errors
    /// What differs, or what is missing for computing it, in words.
    pub fn again(&self, goods: &Goods, versions: &dyn Versions) -> Result<Again, String> {
        if let RecordedContent::Result(result) = &self.version.content {
            return self.result(result, goods, versions);
        }
        if let RecordedContent::Hold(hold) = &self.version.content {
            return self.hold(hold, goods, versions);
        }
        if let RecordedContent::ScreeningValidation(validation) = &self.version.content {
            return self.screening_validation(validation, versions);
        }
        if let RecordedContent::ScreeningReview(review) = &self.version.content {
            return self.screening_review(review, versions);
        }
        Ok(Again::Entered)
    }

    fn named<'g>(
        &self,
        from: &[SubjectVersion],
        goods: &'g Goods,
        versions: &dyn Versions,
    ) -> Result<NamedVersions<'g>, String> {
        let found = self.found(from, versions)?;
        let runs = found
            .iter()
            .filter(|one| matches!(one.content, RecordedContent::Run(_)));
        let begun: HashMap<_, _> = runs
            .filter_map(|one| {
                let subject = one.source.subject;
                Some((subject, versions.begun(subject)?))
            })
            .collect();
        Ok(NamedVersions::new(goods, found, begun))
    }

    fn result(
        &self,
        recorded: &ResultVersion,
        goods: &Goods,
        versions: &dyn Versions,
    ) -> Result<Again, String> {
        let said = &recorded.computed;
        let named = self.named(&said.from, goods, versions)?;
        let computed = computed(said.rules, &named, said.sample, said.analyte)?;
        if computed != *said {
            return Err(differing(&computed, said));
        }
        let open = match recorded.state {
            ResultState::NeedsARun => Some(true),
            ResultState::Held | ResultState::Ready | ResultState::Released => Some(false),
            ResultState::Returned | ResultState::Superseded | ResultState::Cancelled => None,
        };
        match open {
            Some(open) if open != said.needs.is_some() => Err(format!(
                "it is {}, which it cannot be",
                recorded.state.words()
            )),
            _ => Ok(Again::Same),
        }
    }

    fn hold(&self, hold: &Hold, goods: &Goods, versions: &dyn Versions) -> Result<Again, String> {
        if hold.raised_by != RaisedBy::Rule {
            return Ok(Again::Entered);
        }
        let named = self.named(&hold.from, goods, versions)?;
        let (drafts, from) = match hold.of {
            Held::Run(run) => of_run(hold.rules, &named, run)?,
            Held::Result(result) => of_result(hold, &named, result, versions)?,
            Held::Sample(sample) => of_sample(hold.rules, &named, sample)?,
        };
        if from != hold.from {
            return Err("it names other versions than its computation looks at".to_owned());
        }
        let found = drafts.contains(&hold.says());
        let lifted = hold.lifted.as_ref();
        let by_rule = lifted.filter(|lifted| match lifted.how {
            LiftedBy::Acceptance => false,
            LiftedBy::Correction | LiftedBy::AnotherRun | LiftedBy::LaterFact => true,
        });
        if by_rule.is_some_and(|lifted| lifted.at != self.time) {
            return Err("it was lifted at another time than its act's".to_owned());
        }
        match (by_rule.is_some(), found) {
            (false, true) | (true, false) => Ok(Again::Same),
            (false, false) => Err(format!("the rules do not find \"{}\"", hold.detail)),
            (true, true) => Err(format!("the rules still find \"{}\"", hold.detail)),
        }
    }
}

fn computed(
    rules: u32,
    named: &NamedVersions<'_>,
    sample: SampleId,
    analyte: Analyte,
) -> Result<ComputedResult, String> {
    let dossier = named
        .dossier(sample)
        .ok_or("it names no version of its sample")?;
    let mut known = LimitsThatApply::default();
    compute_result(rules, named, &dossier, analyte, &mut known).map_err(|error| {
        let cause = std::error::Error::source(&error);
        cause.map_or_else(|| error.to_string(), ToString::to_string)
    })
}

type Found = (Vec<HoldDraft>, Vec<SubjectVersion>);

fn of_run(rules: u32, named: &NamedVersions<'_>, run: RunId) -> Result<Found, String> {
    let recorded = named
        .runs()
        .find(|one| one.id() == run)
        .ok_or("it names no version of its run")?;
    let entry = &recorded.run.entry;
    let dossier = match entry.sample {
        Some(sample) => named.dossier(sample),
        None => None,
    };
    let series = entry.series.map(|id| named.series(id)).unwrap_or_default();
    let background = RunBackground::of(named, dossier.as_ref(), recorded, &series);
    let drafts = background.holds(rules).map_err(|error| error.to_string())?;
    Ok((drafts, background.sources(rules)))
}

fn of_sample(rules: u32, named: &NamedVersions<'_>, sample: SampleId) -> Result<Found, String> {
    let dossier = named
        .dossier(sample)
        .ok_or("it names no version of its sample")?;
    let background = SampleBackground::of(&dossier);
    let drafts = background.holds(rules).map_err(|error| error.to_string())?;
    Ok((drafts, background.sources()))
}

fn of_result(
    hold: &Hold,
    named: &NamedVersions<'_>,
    result: ResultId,
    versions: &dyn Versions,
) -> Result<Found, String> {
    let first = SubjectVersion {
        subject: result.0,
        version: 1,
    };
    let first = versions.version(first).ok_or("its result is not here")?;
    let RecordedContent::Result(of) = &first.content else {
        return Err("it holds something else than a result".to_owned());
    };
    let rules = results_rules(hold.rules).map_err(|error| error.to_string())?;
    let computed = computed(rules, named, of.computed.sample, of.computed.analyte)?;
    Ok((result_holds(&computed.concerns), computed.from))
}

/// The members in which two computations differ.
fn differing(computed: &ComputedResult, said: &ComputedResult) -> String {
    let members = |one: &ComputedResult| match serde_json::to_value(one) {
        Ok(Value::Object(members)) => members,
        _ => serde_json::Map::new(),
    };
    let (computed, said) = (members(computed), members(said));
    let mut names: Vec<&String> = computed.keys().chain(said.keys()).collect();
    names.sort_unstable();
    names.dedup();
    let shown = |value: Option<&Value>| {
        let text = value.map_or_else(|| "nothing".to_owned(), Value::to_string);
        text.chars().take(80).collect::<String>()
    };
    let differing: Vec<String> = names
        .into_iter()
        .filter(|name| computed.get(*name) != said.get(*name))
        .map(|name| {
            let (ours, theirs) = (shown(computed.get(name)), shown(said.get(name)));
            format!("{name} is {ours} when computed again, and {theirs} in the record")
        })
        .collect();
    differing.join("; ")
}
