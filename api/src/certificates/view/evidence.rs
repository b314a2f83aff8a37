//! What stands behind page 1: sampling, preparation, runs, controls, holds, signatures, methods.

use super::front::named;
use super::{Fact, Section, Table, Writer, column, fact, figures, joined, mass, name, printed};
use crate::certificates::opened::WITHHELD;
use crate::pages::capital;
use domain::{
    certificates::{CertifiedResult, CertifiedRun, Equipment},
    samplings::PlanStanding,
};

impl Writer<'_> {
    pub(super) fn sections(&self) -> Vec<Section> {
        let mut sections = vec![self.sampling(), self.preparation()];
        sections.extend(
            self.certificate
                .results
                .iter()
                .map(|result| self.runs(result)),
        );
        sections.push(self.controls());
        sections.push(self.holds());
        sections.push(self.methods());
        sections.push(self.signatures());
        sections
    }

    fn sampling(&self) -> Section {
        let sampling = &self.certificate.sampling;
        let not_stated = "not known to the laboratory";
        let or = |text: Option<&str>| text.unwrap_or(not_stated).to_owned();
        let by = sampling.by.as_ref().map(name);
        let when = match (sampling.began_at, sampling.ended_at) {
            (Some(began), Some(ended)) => Some(self.span(began, ended)),
            (Some(at), None) | (None, Some(at)) => Some(self.moment(at)),
            (None, None) => None,
        };
        let count = sampling
            .increments
            .map(|count| format!("{count} increments"));
        let each = sampling
            .increment_mass
            .as_ref()
            .map(|it| format!("of {}", mass(it)));
        let all = sampling
            .aggregate_mass
            .as_ref()
            .map(|it| format!("together {}", mass(it)));
        let increments = joined([count.as_deref(), each.as_deref(), all.as_deref()], " ");
        let taken = joined([Some(sampling.taken_by.words()), by.as_deref()], ": ");
        let mut facts = vec![
            fact("Taken by", taken),
            fact("Plan", or(sampling.plan.as_deref())),
            fact("Place", or(sampling.place.as_deref())),
            fact("When", or(when.as_deref())),
            fact("Tool", or(sampling.tool.as_deref())),
            fact(
                "Increments",
                or(Some(increments.as_str()).filter(|text| !text.is_empty())),
            ),
            fact("Seal", or(sampling.seal.as_deref())),
        ];
        facts.extend(self.departures());
        facts.extend(
            self.certificate
                .lot
                .remark
                .as_ref()
                .map(|it| fact("Of the lot", it.clone())),
        );
        for item in &self.certificate.items {
            let moisture = item.moisture_percent.map(|it| format!("moisture {it} %"));
            let weight = item.mass.as_ref().map(mass);
            let text = joined(
                [
                    item.description.as_deref(),
                    weight.as_deref(),
                    moisture.as_deref(),
                    item.condition.as_deref(),
                ],
                "; ",
            );
            facts.push(fact(&format!("Sample {}", item.code), text));
        }
        Section {
            title: "Sampling and samples".to_owned(),
            facts,
            tables: Vec::new(),
        }
    }

    /// What departs from the plan: what was written down, then what a published plan asks beyond
    /// what was taken.
    fn departures(&self) -> Vec<Fact> {
        let sampling = &self.certificate.sampling;
        let stated = sampling.deviations.as_deref();
        let Some(check) = &sampling.plan_check else {
            return vec![fact("Departures from the plan", stated.unwrap_or("none"))];
        };
        let mut facts = vec![fact("Against the plan", capital(&check.detail))];
        if let Some(asked) = &check.asked {
            let known = match asked.confidence.as_str() {
                "seen" => String::new(),
                other => format!(" (its figures here are from {other})"),
            };
            facts.push(fact(
                "Source of the plan",
                format!("{}{known}", asked.source),
            ));
        }
        let unstated = match check.standing {
            PlanStanding::AsAsked => "none",
            PlanStanding::NoPlan
            | PlanStanding::OwnPlan
            | PlanStanding::NotApplicable
            | PlanStanding::Departs => "as above",
        };
        facts.push(fact("Departures from the plan", stated.unwrap_or(unstated)));
        facts
    }

    fn preparation(&self) -> Section {
        let rows = self.certificate.preparation.iter().map(|step| {
            let what = joined([Some(step.what.as_str()), step.remark.as_deref()], ". ");
            vec![
                format!("{} {}", step.made, step.code),
                what,
                joined(
                    step.equipment
                        .iter()
                        .map(equipment)
                        .map(Some)
                        .collect::<Vec<_>>()
                        .iter()
                        .map(|it| it.as_deref()),
                    "; ",
                ),
                self.moment(step.at),
                step.by.as_ref().map_or_else(not_known, name),
            ]
        });
        let columns = vec![
            column("Made", 3),
            column("What was done", 5),
            column("Equipment, checked until", 5),
            column("When", 3),
            column("By", 3),
        ];
        section(
            "Preparation",
            Vec::new(),
            vec![table(columns, rows.collect(), "")],
        )
    }

    fn runs(&self, result: &CertifiedResult) -> Section {
        let unit = printed(result.unit);
        let rows: Vec<Vec<String>> = result
            .runs
            .iter()
            .map(|run| {
                vec![
                    self.moment(run.read_at),
                    reader(run),
                    kit_lot(run),
                    run.extract.clone(),
                    run.analyst.as_ref().map_or_else(not_known, name),
                    run.used.words().to_owned(),
                ]
            })
            .collect();
        let columns = vec![
            column("Read", 4),
            column("Reader", 4),
            column("Kit lot", 4),
            column("Extract", 3),
            column("Analyst", 3),
            column("Use", 2),
        ];
        let arithmetic = result.runs.iter().map(|run| {
            vec![
                self.clock(run.read_at),
                run.reading.to_string(),
                run.volumes(),
                run.arithmetic(),
            ]
        });
        let sums = vec![
            column("Read", 2),
            figures(&format!("Reading, {unit}"), 2),
            column("Dilution", 6),
            figures(&format!("Reading × factor, {unit}"), 5),
        ];
        let exact = result.value.map_or_else(
            || format!("reported as {} {unit}", result.reported),
            |value| {
                format!(
                    "{value} {unit}, reported as {} {unit}: {}",
                    result.reported, result.rounding
                )
            },
        );
        let mut tables = vec![
            table(columns, rows, ""),
            table(sums, arithmetic.collect(), ""),
            ranges(result),
        ];
        tables.extend(super::budget::budget(result));
        tables.extend(super::budget::of_lot(result));
        let title = format!(
            "Runs: {}, sample {}",
            result.analyte_name,
            self.sample_code(result.sample)
        );
        let facts = vec![
            fact("Value", exact),
            fact("How it follows", result.derivation.clone()),
            fact("Released", self.released(result)),
        ];
        section(&title, facts, tables)
    }

    fn released(&self, result: &CertifiedResult) -> String {
        result.released.as_ref().map_or_else(String::new, |it| {
            format!("{}, {}", name(&it.by), self.moment(it.signed_at))
        })
    }

    fn controls(&self) -> Section {
        let rows: Vec<Vec<String>> = self
            .certificate
            .controls
            .iter()
            .map(|control| {
                let verdict = if control.accepted {
                    "accepted"
                } else {
                    "not accepted"
                };
                vec![
                    format!("{}, {}", control.material_code, control.analyte.name()),
                    control.assigned.to_string(),
                    format!("{} to {}", control.lower, control.upper),
                    control.reading.to_string(),
                    printed(control.unit).to_owned(),
                    self.moment(control.read_at),
                    verdict.to_owned(),
                ]
            })
            .collect();
        if rows.is_empty() {
            let none = vec![fact(
                "Controls",
                "No control run belongs to the series of these runs.",
            )];
            return section("Controls", none, Vec::new());
        }
        let columns = vec![
            column("Control material", 6),
            figures("Assigned", 2),
            figures("Window", 3),
            figures("Reading", 2),
            column("Unit", 2),
            column("Read", 4),
            column("", 2),
        ];
        section("Controls", Vec::new(), vec![table(columns, rows, "")])
    }

    fn holds(&self) -> Section {
        let title = "Holds that were accepted";
        if self.certificate.holds.is_empty() {
            let none = "No hold was accepted: nothing departed from the procedure.";
            return section(title, vec![fact("Holds", none)], Vec::new());
        }
        let rows = self.certificate.holds.iter().map(|hold| {
            vec![
                format!("{}: {}", hold.kind.replace('-', " "), hold.words),
                hold.reason.clone().unwrap_or_else(|| WITHHELD.to_owned()),
                format!(
                    "{}, {}",
                    name(&hold.accepted_by),
                    self.moment(hold.accepted_at)
                ),
            ]
        });
        let columns = vec![
            column("What stood in the way", 4),
            column("Why it was accepted", 4),
            column("By", 3),
        ];
        section(title, Vec::new(), vec![table(columns, rows.collect(), "")])
    }

    fn methods(&self) -> Section {
        let facts = self.certificate.procedures.iter().map(|procedure| {
            let instructions = procedure
                .instructions_revision
                .as_ref()
                .map(|it| format!(" Kit instructions: {it}."))
                .unwrap_or_default();
            fact(
                &format!("{}, version {}", procedure.code, procedure.version),
                format!("{}. {}{instructions}", procedure.name, procedure.principle),
            )
        });
        section("Methods", facts.collect(), Vec::new())
    }

    fn signatures(&self) -> Section {
        let rows = self.certificate.signatures.iter().map(|signature| {
            vec![
                name(&signature.by),
                signature.meaning.words().to_owned(),
                self.moment(signature.signed_at),
                signature.comment.clone().unwrap_or_default(),
            ]
        });
        let columns = vec![
            column("Name", 3),
            column("Meaning", 4),
            column("Signed", 3),
            column("Comment", 4),
        ];
        section(
            "Signatures",
            Vec::new(),
            vec![table(columns, rows.collect(), "")],
        )
    }
}

fn not_known() -> String {
    "not known".to_owned()
}

fn reader(run: &CertifiedRun) -> String {
    run.reader.as_ref().map_or_else(not_known, |reader| {
        format!("{}, port {}", reader.serial, reader.port)
    })
}

fn kit_lot(run: &CertifiedRun) -> String {
    run.kit_lot.as_ref().map_or_else(not_known, |lot| {
        format!("{}, until {}", lot.code, lot.expires_on)
    })
}

fn section(title: &str, facts: Vec<Fact>, tables: Vec<Table>) -> Section {
    Section {
        title: title.to_owned(),
        facts,
        tables,
    }
}

pub(super) fn table(columns: Vec<super::Column>, rows: Vec<Vec<String>>, caption: &str) -> Table {
    Table {
        caption: caption.to_owned(),
        columns,
        rows,
        note: String::new(),
    }
}

fn equipment(equipment: &Equipment) -> String {
    let until = equipment
        .checked_until
        .map_or_else(String::new, |day| format!(", {day}"));
    format!("{} {}{until}", equipment.kind, equipment.code)
}

fn ranges(result: &CertifiedResult) -> Table {
    let rows = result.ranges.iter().map(|range| {
        vec![
            range.dilution.clone(),
            range.lod.normalize().to_string(),
            range.loq.normalize().to_string(),
            range.upper.normalize().to_string(),
        ]
    });
    let title = format!("Measuring range, {}", printed(result.unit));
    let columns = named(
        &title,
        &[
            ("Limit of detection", 2),
            ("Limit of quantification", 2),
            ("Upper end", 2),
        ],
    );
    table(columns, rows.collect(), "")
}
