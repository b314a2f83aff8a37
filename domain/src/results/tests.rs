//! Results from runs: shared cases of the tests below.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may panic"
)]

mod over_range;
mod precision;
mod properties;
mod rules_2;
mod states;
mod uses;

use crate::analytes::Analyte;
use crate::decisions::DecisionRule;
use crate::equipment::Equipment;
use crate::id::{EquipmentId, KitLotId, RunId};
use crate::kit_lots::KitLotEntry;
use crate::limits::{Adoption, Applied, ConditionFacts, Limit, shipped_limits};
use crate::procedures::ProcedureEntry;
use crate::quantity::{Concentration, Number};
use crate::runs::{Run, RunContext, RunEntry};
use crate::versions::SubjectVersion;

use super::{
    ComputedResult, Facts, OrderFacts, Pipette, ResultInputs, ResultPurpose, RunFacts, compute,
};

/// A laboratory's bench with one sample on it; the numbers are made for these tests.
#[derive(Debug)]
struct Bench {
    procedure: ProcedureEntry,
    kit_lot: Option<KitLotEntry>,
    runs: Vec<(RunId, Run, Option<Concentration>)>,
    limits: Vec<Limit>,
    pipettes: Vec<Equipment>,
    number_wanted: bool,
    moisture_percent: Option<Number>,
}

fn entry() -> RunEntry {
    let entry: RunEntry = serde_json::from_str(include_str!("../runs/example.json")).unwrap();
    RunEntry {
        dilution: vec![],
        stated_factor: None,
        readings: vec![],
        ..entry
    }
}

fn uuid(number: usize) -> uuid::Uuid {
    format!("019ca869-6000-7000-8000-{number:012x}")
        .parse()
        .unwrap()
}

fn number(text: &str) -> Number {
    text.parse().unwrap()
}

fn amount(text: &str) -> Concentration {
    Concentration::from_ug_per_kg(number(text).0)
}

/// `12.5`, `<2`, `>50`, `ND` or `!` (invalid), as readers export them.
fn reading(text: &str) -> crate::runs::Reading {
    let (kind, value) = match text {
        "ND" => ("not-detected", ""),
        "!" => ("invalid", ""),
        bound if bound.starts_with('<') => ("below", bound.trim_start_matches('<')),
        bound if bound.starts_with('>') => ("above", bound.trim_start_matches('>')),
        plain => ("number", plain),
    };
    let value = if value.is_empty() {
        String::new()
    } else {
        format!(r#","value":"{value}""#)
    };
    let reason = if kind == "invalid" {
        r#","reason":"no-control-line""#
    } else {
        ""
    };
    serde_json::from_str(&format!(
        r#"{{"analyte":"aflatoxin-total","kind":"{kind}","unit":"ug/kg"{value}{reason}}}"#
    ))
    .unwrap()
}

impl Bench {
    fn new() -> Self {
        Self {
            procedure: serde_json::from_str(include_str!("../procedures/example.json")).unwrap(),
            kit_lot: None,
            runs: vec![],
            limits: vec![],
            pipettes: vec![],
            number_wanted: false,
            moisture_percent: None,
        }
    }

    /// A run whose extract was diluted, 100 µL with so many, where that is above zero.
    fn run(mut self, diluent_ul: u32, text: &str) -> Self {
        let mut entry = entry();
        if diluent_ul > 0 {
            let step = serde_json::json!({
                "sample_volume_ul": "100",
                "diluent_volume_ul": diluent_ul.to_string(),
                "diluent": "water",
            });
            entry.dilution = vec![serde_json::from_value(step).unwrap()];
        }
        entry.readings = vec![reading(text)];
        let run = Run::record(entry, &RunContext::default(), vec![]).unwrap();
        let id = RunId(uuid(self.runs.len() + 1));
        self.runs.push((id, run, None));
        self
    }

    fn last(mut self, change: impl FnOnce(&mut Run)) -> Self {
        change(&mut self.runs.last_mut().unwrap().1);
        self
    }

    /// The action level for aflatoxins in human food, adopted: 20 µg/kg.
    fn limit_20(mut self) -> Self {
        let today = "2026-03-01".parse().unwrap();
        let adoption = Adoption {
            on: today,
            by: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap(),
            reading: "20, read".into(),
        };
        let proposed = shipped_limits()
            .unwrap()
            .into_iter()
            .find(|limit| limit.id == "us-food-general-afla")
            .unwrap();
        self.limits.push(proposed.adopt(adoption, today).unwrap());
        self
    }

    fn limit(mut self, value: &str) -> Self {
        self = self.limit_20();
        self.limits.last_mut().unwrap().value = amount(value);
        self
    }

    fn pipette(mut self, minimum: &str, maximum: &str, step: &str) -> Self {
        let place = self.pipettes.len();
        self.pipettes.push(
            serde_json::from_str(&format!(
                r#"{{"code":"P-{place}","kind":"pipette","name":"pipette",
                "minimum_volume_ul":"{minimum}","maximum_volume_ul":"{maximum}",
                "step_volume_ul":"{step}"}}"#
            ))
            .unwrap(),
        );
        self
    }

    fn result(&self) -> ComputedResult {
        let order: Vec<usize> = (0..self.runs.len()).collect();
        self.result_in_order(&order)
    }

    fn result_in_order(&self, order: &[usize]) -> ComputedResult {
        self.with_inputs(order, compute)
    }

    /// What is made of the inputs of all runs, in an order.
    fn with_inputs<T>(&self, order: &[usize], make: impl FnOnce(&ResultInputs<'_>) -> T) -> T {
        let runs: Vec<RunFacts<'_>> = order
            .iter()
            .filter_map(|place| self.runs.get(*place))
            .map(|(id, run, expanded_uncertainty)| RunFacts {
                id: *id,
                version: 1,
                run,
                expanded_uncertainty: *expanded_uncertainty,
            })
            .collect();
        let limits: Vec<Applied<'_>> = self
            .limits
            .iter()
            .map(|limit| Applied {
                limit,
                why: String::new(),
                condition: None,
            })
            .collect();
        let pipettes: Vec<Pipette<'_>> = self
            .pipettes
            .iter()
            .enumerate()
            .map(|(place, equipment)| Pipette {
                id: EquipmentId(uuid(0xe00 + place)),
                version: 1,
                equipment,
            })
            .collect();
        let source = |subject| SubjectVersion {
            subject,
            version: 1,
        };
        let kit_lots: Vec<Facts<'_, KitLotEntry>> = self
            .kit_lot
            .iter()
            .map(|content| Facts {
                source: source(entry().kit_lot.map_or_else(|| uuid(0), |id: KitLotId| id.0)),
                content,
            })
            .collect();
        make(&ResultInputs {
            sample: entry().sample.unwrap(),
            analyte: Analyte::AflatoxinTotal,
            purpose: ResultPurpose::Original,
            order: OrderFacts {
                number_wanted: self.number_wanted,
                rule: DecisionRule::Simple,
            },
            procedure: Some(Facts {
                source: source(entry().procedure.unwrap().0),
                content: &self.procedure,
            }),
            kit_lots: &kit_lots,
            runs: &runs,
            limits: &limits,
            conditions: &ConditionFacts::default(),
            moisture_percent: self.moisture_percent,
            recorded_bases: &[],
            uncertainty: None,
            pipettes: &pipettes,
            evidence: &super::BudgetEvidence::default(),
            other_sources: &[],
        })
    }
}
