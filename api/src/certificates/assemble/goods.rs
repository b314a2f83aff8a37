//! Who and what: laboratory, customer, lot, samples, sampling, preparation.

use super::person;
use crate::{
    certificates::evidence::{Evidence, Found},
    error::{Answer, ApiError},
};
use domain::{
    certificates::{
        Customer, Equipment, Issuer, Item, Lot, Mass, Person, PreparationStep, Sampling,
        SamplingBy, Site, Term,
    },
    commodities::Vocabulary,
    id::{CustomerId, LotId, PreparationId, SampleId, SiteId},
    lots::CarrierKind,
    preparations::{Clarification, Preparation, PreparationKind},
    quantity::Number,
    samplings::{self, PlanCheck, PlanStanding, plan_check},
};
use std::collections::HashMap;
use uuid::Uuid;

/// What each step of preparation is called in the certificate: sample, letter, number.
pub(super) type Labels = HashMap<Uuid, String>;

/// Names the steps of each sample in the order of their times.
pub(super) fn labels(evidence: &Evidence) -> Labels {
    let mut steps: Vec<(&Uuid, &Preparation)> = evidence
        .preparations
        .iter()
        .map(|(id, step)| (id, &step.content))
        .collect();
    steps.sort_by_key(|(id, step)| (step.at, **id));
    let mut counted: HashMap<(SampleId, char), u32> = HashMap::new();
    let mut labels = Labels::new();
    for (id, step) in steps {
        let letter = match step.kind {
            PreparationKind::GroundSample => 'G',
            PreparationKind::TestPortion => 'P',
            PreparationKind::Extract => 'X',
        };
        let count = counted.entry((step.sample, letter)).or_default();
        *count = count.saturating_add(1);
        let sample = evidence.samples.get(&step.sample.0);
        let code = sample.map_or("", |sample| sample.content.code.as_str());
        labels.insert(*id, format!("{code}/{letter}{count}"));
    }
    labels
}

/// Texts that are there, with a mark between them; none where there is none.
fn joined(parts: impl IntoIterator<Item = Option<String>>, between: &str) -> Option<String> {
    let texts: Vec<String> = parts.into_iter().flatten().collect();
    (!texts.is_empty()).then(|| texts.join(between))
}

pub(super) fn issuer(evidence: &Evidence) -> Issuer {
    let laboratory = &evidence.laboratory;
    let (id, site) = &evidence.site;
    Issuer {
        name: Some(laboratory.name.clone()),
        address: Some(laboratory.address.clone()),
        contact: joined(
            [laboratory.telephone.clone(), laboratory.email.clone()],
            " · ",
        ),
        accreditation: None,
        site: Site {
            id: SiteId(*id),
            code: site.code.clone(),
            name: Some(site.name.clone()),
            address: site.address.clone(),
        },
    }
}

pub(super) fn customer(evidence: &Evidence) -> Customer {
    let (id, customer) = &evidence.customer;
    Customer {
        id: CustomerId(*id),
        name: Some(customer.name.clone()),
        address: customer.address.clone(),
        contact: joined([customer.telephone.clone(), customer.email.clone()], " · "),
    }
}

fn commodity(id: &str) -> Answer<Term> {
    let vocabulary = Vocabulary::shipped().map_err(ApiError::internal)?;
    let entry = vocabulary.commodities.entry(id);
    Ok(Term {
        id: id.to_owned(),
        name: entry.map_or_else(|| id.replace('-', " "), |entry| entry.name.clone()),
    })
}

pub(super) fn lot(evidence: &Evidence) -> Answer<Lot> {
    let (id, lot) = &evidence.lot;
    let carrier = lot.carrier.as_ref();
    Ok(Lot {
        id: LotId(*id),
        code: evidence.parent.as_ref().unwrap_or(lot).code.clone(),
        sublot: evidence.parent.as_ref().map(|_whole| lot.code.clone()),
        commodity: commodity(&lot.commodity)?,
        mass: lot.mass_kg.map(|mass| in_unit(mass, "kg")),
        carrier: carrier.and_then(|carrier| {
            joined(
                [
                    Some(kind(carrier.kind).to_owned()),
                    carrier.registration.clone(),
                ],
                " ",
            )
        }),
        arrived_on: Some(lot.arrived_on),
        remark: lot.comment.clone(),
    })
}

fn in_unit(mass: Number, unit: &str) -> Mass {
    Mass {
        value: mass.0,
        unit: unit.to_owned(),
    }
}

const fn kind(carrier: CarrierKind) -> &'static str {
    match carrier {
        CarrierKind::Truck => "truck",
        CarrierKind::RailWagon => "rail wagon",
        CarrierKind::Barge => "barge",
        CarrierKind::Vessel => "vessel",
        CarrierKind::Container => "container",
        CarrierKind::Silo => "silo",
        CarrierKind::Bags => "bags",
    }
}

pub(super) fn items(evidence: &Evidence) -> Answer<Vec<Item>> {
    evidence
        .samples
        .iter()
        .map(|(id, sample)| {
            let sample = &sample.content;
            Ok(Item {
                sample: SampleId(*id),
                lot: LotId(evidence.lot.0),
                code: sample.code.clone(),
                description: Some(commodity(&sample.commodity)?.name),
                condition: sample.condition.clone(),
                mass: sample.mass_g.map(|mass| in_unit(mass, "g")),
                moisture_percent: sample.moisture.as_ref().map(|moisture| moisture.percent.0),
                received_at: sample.received_at,
            })
        })
        .collect()
}

/// How the samples were taken. Whom the laboratory has an account of took them for it; where no
/// sampling is recorded, the customer brought them.
pub(super) fn sampling(evidence: &Evidence) -> Sampling {
    let Some(sampling) = &evidence.sampling else {
        return Sampling {
            taken_by: SamplingBy::Customer,
            by: None,
            plan: None,
            place: None,
            began_at: None,
            ended_at: None,
            tool: None,
            increments: None,
            increment_mass: None,
            aggregate_mass: None,
            seal: None,
            deviations: None,
            plan_check: None,
        };
    };
    let tool = sampling
        .instrument
        .and_then(|id| evidence.equipment.get(&id.0))
        .map(|tool| format!("{} {}", tool.content.name, tool.content.code));
    Sampling {
        taken_by: match (sampling.account, &sampling.taken_by) {
            (Some(_), _) => SamplingBy::Laboratory,
            (None, Some(_)) => SamplingBy::ThirdParty,
            (None, None) => SamplingBy::Customer,
        },
        by: sampling.account.map(|account| Person {
            account,
            name: sampling.taken_by.clone().or_else(|| evidence.name(account)),
        }),
        plan: joined([sampling.plan.clone(), sampling.pattern.clone()], "; "),
        place: sampling.place.clone(),
        began_at: Some(sampling.taken_at),
        ended_at: None,
        tool,
        increments: sampling.increments,
        increment_mass: sampling.increment_mass_g.map(|mass| in_unit(mass, "g")),
        aggregate_mass: sampling.aggregate_mass_kg.map(|mass| in_unit(mass, "kg")),
        seal: sampling.seal.clone(),
        deviations: sampling.deviations.clone(),
        plan_check: published_plan(evidence, sampling),
    }
}

/// The sampling against its plan, for the lightest of the samples made of it; nothing where it
/// names none of the published plans.
fn published_plan(evidence: &Evidence, sampling: &samplings::Sampling) -> Option<PlanCheck> {
    let samples = evidence.samples.values().map(|found| &found.content);
    let lightest = samples.min_by_key(|sample| sample.mass_g);
    let check = plan_check(sampling, Some(&evidence.lot.1), lightest);
    match check.standing {
        PlanStanding::NoPlan | PlanStanding::OwnPlan => None,
        PlanStanding::NotApplicable | PlanStanding::Departs | PlanStanding::AsAsked => Some(check),
    }
}

/// The steps that lead to the extracts of the runs shown, in the order of their times.
pub(super) fn preparation(evidence: &Evidence, labels: &Labels) -> Vec<PreparationStep> {
    let mut wanted: Vec<Uuid> = evidence
        .runs
        .values()
        .filter_map(|run| run.content.entry.extract)
        .map(|id| id.0)
        .collect();
    let mut steps: Vec<(Uuid, &Found<Preparation>)> = Vec::new();
    while let Some(id) = wanted.pop() {
        let known = steps.iter().any(|(step, _)| *step == id);
        if let Some(step) = evidence.preparations.get(&id).filter(|_| !known) {
            wanted.extend(step.content.parent.map(|parent| parent.0));
            steps.push((id, step));
        }
    }
    steps.sort_by_key(|(id, step)| (step.content.at, *id));
    steps
        .into_iter()
        .map(|(id, step)| PreparationStep {
            id: PreparationId(id),
            code: labels.get(&id).cloned().unwrap_or_default(),
            sample: step.content.sample,
            made: step.content.kind.name().to_owned(),
            what: what_was_done(&step.content),
            at: step.content.at,
            by: step.content.by.map(|account| person(evidence, account)),
            equipment: equipment(evidence, &step.content),
            remark: step.content.comment.clone(),
        })
        .collect()
}

fn what_was_done(step: &Preparation) -> String {
    let verb = match step.kind {
        PreparationKind::GroundSample => "ground",
        PreparationKind::TestPortion => "weighed",
        PreparationKind::Extract => "extracted",
    };
    let mass = step.mass_g.map(|mass| format!("{mass} g {verb}"));
    let liquids = step.liquids.iter().map(|liquid| {
        let volume = liquid.volume_ml.map(|volume| format!("{volume} mL "));
        let volume = volume.unwrap_or_default();
        Some(format!("{volume}{} (lot {})", liquid.name, liquid.lot))
    });
    let shaken = step.shaking_s.map(|seconds| format!("shaken {seconds} s"));
    let clarified = step.clarification.map(|how| {
        let volume = step
            .clarified_volume_ml
            .map(|volume| format!("{volume} mL "));
        let how = match how {
            Clarification::Filter => "filtered",
            Clarification::Centrifuge => "taken from the centrifuge",
        };
        format!("{}{how}", volume.unwrap_or_default())
    });
    let parts = [mass].into_iter().chain(liquids).chain([shaken, clarified]);
    joined(parts, ", ").unwrap_or_else(|| verb.to_owned())
}

fn equipment(evidence: &Evidence, step: &Preparation) -> Vec<Equipment> {
    step.equipment
        .iter()
        .filter_map(|id| evidence.equipment.get(&id.0))
        .map(|found| {
            let piece = &found.content;
            Equipment {
                kind: piece.kind.name().to_owned(),
                code: piece.code.clone(),
                checked_until: [piece.calibration_due_on, piece.check_due_on]
                    .into_iter()
                    .flatten()
                    .min(),
            }
        })
        .collect()
}
