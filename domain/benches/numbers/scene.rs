//! One result with everything that is looked at for it: invented records of one sample.
//!
//! Promises a budget with a line for precision, bias, recovery, each volume and the mass,
//! decisions with probabilities against limits of two jurisdictions out of all shipped ones, and
//! holds; refuses to compute a scene that has lost one of them.

use std::{collections::HashMap, hint::black_box, sync::Arc};

use domain::{
    analytes::Analyte,
    assessment::{
        Dossier, Goods, LimitsThatApply, NamedVersions, RecordedContent, RecordedVersion,
        RunBackground, compute_result,
    },
    holds::HoldDraft,
    id::{SampleId, SeriesId},
    limits::{Adoption, shipped_limits},
    results::ComputedResult,
    time::Moment,
    versions::SubjectVersion,
};
use serde::Deserialize;
use serde_json::Value;
use uuid::Uuid;

use super::Failure;

/// A record as the scene's file has it.
#[derive(Deserialize)]
struct Record {
    kind: String,
    id: Uuid,
    content: Value,
}

#[derive(Deserialize)]
struct Told {
    sample: SampleId,
    series: SeriesId,
    recorded_at: Moment,
    records: Vec<Record>,
}

/// The records, and what everything shares.
pub(crate) struct Scene {
    goods: Goods,
    told: Told,
    versions: Vec<Arc<RecordedVersion>>,
}

impl Scene {
    /// Reads the records; every shipped limit is adopted.
    pub(crate) fn new() -> Result<Self, Failure> {
        let told: Told = serde_json::from_str(include_str!("scene.json"))?;
        let mut versions = Vec::new();
        for record in &told.records {
            let content = RecordedContent::read(&record.kind, record.content.clone())
                .map_err(|error| format!("{}: {error}", record.kind))?;
            versions.push(version(record.id, content));
        }
        let today = "2026-03-01".parse()?;
        for (limit, place) in shipped_limits()?.into_iter().zip(0_u128..) {
            let adoption = Adoption {
                on: today,
                by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
                reading: "read".into(),
            };
            let id = Uuid::from_u128(0x019c_a869_9000_7000_8000_0000_0000_0000 + place);
            let adopted = limit.adopt(adoption, today)?;
            versions.push(version(id, RecordedContent::Limit(adopted)));
        }
        Ok(Self {
            goods: Goods::shipped()?,
            told,
            versions,
        })
    }

    /// Computes the result and the holds of its run so many times, by rules of a number.
    pub(crate) fn compute_often(&self, rules: u32, count: u64) -> Result<(), Failure> {
        let runs = self.told.records.iter().filter(|one| one.kind == "run");
        let begun: HashMap<Uuid, Moment> =
            runs.map(|run| (run.id, self.told.recorded_at)).collect();
        let named = NamedVersions::new(&self.goods, self.versions.clone(), begun);
        let dossier = named.dossier(self.told.sample).ok_or("no sample")?;
        let (result, holds) = self.once(rules, &named, &dossier)?;
        let lines = result.uncertainty.map_or(0, |known| known.lines.len());
        let decisions = result.decisions.len();
        let sure = result.decisions.iter();
        let sure = sure.filter(|one| one.probability_of_conformity.is_some());
        let sure = sure.count();
        let budgeted = rules < 2 || lines >= 8 && sure >= 2;
        if !budgeted || decisions < 2 || holds.len() < 2 {
            let found = format!("{lines} lines, {decisions} decisions, {sure} with probability");
            return Err(format!("the scene has {found}, and holds {holds:?}").into());
        }
        for _ in 0..count {
            black_box(self.once(black_box(rules), &named, &dossier)?);
        }
        Ok(())
    }

    fn once(
        &self,
        rules: u32,
        named: &NamedVersions<'_>,
        dossier: &Dossier<'_>,
    ) -> Result<(ComputedResult, Vec<HoldDraft>), Failure> {
        let mut known = LimitsThatApply::default();
        let analyte = Analyte::AflatoxinTotal;
        let result = compute_result(rules, named, dossier, analyte, &mut known)?;
        let run = dossier.runs.first().ok_or("no run")?;
        let series = named.series(self.told.series);
        let background = RunBackground::of(named, Some(dossier), *run, &series);
        Ok((result, background.holds(rules)?))
    }
}

fn version(subject: Uuid, content: RecordedContent) -> Arc<RecordedVersion> {
    Arc::new(RecordedVersion {
        source: SubjectVersion {
            subject,
            version: 1,
        },
        entry: 0,
        content,
    })
}
