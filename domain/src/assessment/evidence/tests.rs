//! Evidence of budgets from recorded facts, and that the versions named are all it takes.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

mod lot;

use std::collections::HashMap;
use std::sync::Arc;

use serde_json::{Value, json};
use uuid::Uuid;

use crate::analytes::Analyte;
use crate::assessment::{
    Dossier, Goods, LimitsThatApply, NamedVersions, RecordedContent, RecordedVersion,
    compute_result, compute_result_anew,
};
use crate::id::SampleId;
use crate::results::{ComputedResult, ResultVersion};
use crate::versions::SubjectVersion;

fn id(number: u32) -> Uuid {
    format!("019ca869-7000-7000-8000-{number:012}")
        .parse()
        .unwrap()
}

const SAMPLE: u32 = 1;
const RUN: u32 = 2;
const PROCEDURE: u32 = 3;
const SITE: u32 = 4;
const SMALL: u32 = 5;
const LARGE: u32 = 6;
const BALANCE: u32 = 7;
const CYLINDER: u32 = 8;
const PORTION: u32 = 9;
const EXTRACT: u32 = 10;
const MATERIAL: u32 = 11;
const HUGE: u32 = 12;

/// A laboratory's records, by subject; the numbers are made for these tests.
struct Records(HashMap<u32, (&'static str, Value)>);

fn pipette(code: &str, from: &str, to: &str) -> Value {
    json!({"code": code, "kind": "pipette", "name": code, "site": id(SITE),
        "minimum_volume_ul": from, "maximum_volume_ul": to})
}

impl Records {
    /// A run of 12.5 µg/kg after 100 µL + 500 µL, from 10.0 g in 50 mL.
    fn new() -> Self {
        let procedure = json!({"state": "adopted", "code": "P-1", "title": "by strip",
            "kit_instructions_revision": "4", "effective_from": "2026-01-05",
            "commodities": ["maize-grain"], "analytes":
            [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
            "rounding": {"to": "places", "of": 1, "tie": "half-even"},
            "precision": {"constant": "0.6", "proportional": "0.04"}});
        let run = json!({"state": "recorded", "sample": id(SAMPLE), "extract": id(EXTRACT),
            "procedure": id(PROCEDURE), "port": 1, "read_at": "2026-03-01T08:15:00.000000Z",
            "dilution": [{"sample_volume_ul": "100", "diluent_volume_ul": "500",
                "diluent": "water"}],
            "factor": {"numerator": "6", "denominator": "1"}, "value_includes_factor": false,
            "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": "12.5",
                "unit": "ug/kg"}], "origins": []});
        let records = [
            (
                SAMPLE,
                (
                    "sample",
                    json!({"code": "S-1", "purpose": "customer", "site": id(SITE),
                        "commodity": "maize-grain",
                        "received_at": "2026-03-01T07:00:00.000000Z"}),
                ),
            ),
            (RUN, ("run", run)),
            (PROCEDURE, ("procedure", procedure)),
            (
                SITE,
                (
                    "site",
                    json!({"code": "QUAY", "name": "Quay", "time_zone": "UTC"}),
                ),
            ),
            (
                PORTION,
                (
                    "preparation",
                    json!({"kind": "test-portion", "sample": id(SAMPLE), "mass_g": "10.0",
                        "at": "2026-03-01T07:30:00.000000Z", "equipment": [id(BALANCE)]}),
                ),
            ),
            (
                EXTRACT,
                (
                    "preparation",
                    json!({"kind": "extract", "sample": id(SAMPLE), "parent": id(PORTION),
                        "at": "2026-03-01T07:40:00.000000Z", "equipment": [id(CYLINDER)],
                        "liquids": [{"name": "water", "lot": "W-1", "volume_ml": "50"}]}),
                ),
            ),
        ];
        Self(records.into_iter().collect())
    }

    fn with(mut self, number: u32, kind: &'static str, content: Value) -> Self {
        self.0.insert(number, (kind, content));
        self
    }

    fn change(mut self, number: u32, pointer: &str, value: Value) -> Self {
        let (_, content) = self.0.get_mut(&number).unwrap();
        let (parent, member) = pointer.rsplit_once('/').unwrap();
        content.pointer_mut(parent).unwrap()[member] = value;
        self
    }

    fn result_from(&self, named: impl Fn(&SubjectVersion) -> bool) -> ComputedResult {
        self.computed(named, |known, dossier, limits| {
            compute_result(2, known, dossier, Analyte::AflatoxinTotal, limits).unwrap()
        })
    }

    /// What is computed from the versions that are named.
    fn computed<T>(
        &self,
        named: impl Fn(&SubjectVersion) -> bool,
        compute: impl FnOnce(&NamedVersions<'_>, &Dossier<'_>, &mut LimitsThatApply) -> T,
    ) -> T {
        let goods = Goods::shipped().unwrap();
        let versions: Vec<_> = self
            .0
            .iter()
            .map(|(number, (kind, content))| RecordedVersion {
                source: SubjectVersion {
                    subject: id(*number),
                    version: *number,
                },
                entry: 0,
                content: RecordedContent::read(kind, content.clone()).unwrap(),
            })
            .filter(|version| named(&version.source))
            .map(Arc::new)
            .collect();
        let begun = HashMap::from([(id(RUN), "2026-03-01T08:16:00Z".parse().unwrap())]);
        let known = NamedVersions::new(&goods, versions, begun);
        let dossier = known.dossier(SampleId(id(SAMPLE))).unwrap();
        compute(&known, &dossier, &mut LimitsThatApply::default())
    }

    /// The result; it comes out the same from the versions that it names alone.
    fn result(&self) -> ComputedResult {
        let result = self.result_from(|_| true);
        let again = self.result_from(|source| result.from.contains(source));
        assert_eq!(result, again, "the versions named are not all it takes");
        result
    }

    /// Source, contribution and words of the line that begins with a word.
    fn line(&self, begins: &str) -> (String, String, String) {
        let lines = self.result().uncertainty.unwrap().lines;
        let mut found = lines
            .into_iter()
            .filter(|one| one.source.starts_with(begins));
        let line = found.next().unwrap();
        (line.source, line.contribution.to_string(), line.stated)
    }

    fn names(&self, number: u32) -> bool {
        let from = self.result().from;
        from.iter().any(|source| source.subject == id(number))
    }
}

// Value 75 µg/kg. A sample volume contributes 75 · 5/6 · u/100 µL, a diluent 75/6 · u/100 µL
// (JCGM 100:2008, 5.1.2).

#[test]
fn a_volume_has_the_limits_of_the_pipette_that_the_step_names() {
    let records = Records::new()
        .with(SMALL, "equipment", pipette("PI-1", "20", "200"))
        .with(LARGE, "equipment", pipette("PI-2", "100", "1000"))
        .change(RUN, "/dilution/0/pipette", json!(id(SMALL)));
    let records = records.change(RUN, "/dilution/0/diluent_pipette", json!(id(LARGE)));
    let (_, contribution, stated) = records.line("dilution, sample volume");
    // ISO 8655-2:2002, table 1 (from memory): 200 µL: 1.6 µL systematic, 0.6 µL random;
    // u = √(1.6²/3 + 0.6²) = 1.101514 µL; 75 · 5/6 · 1.101514/100 = 0.688446.
    assert_eq!(contribution, "0.688446");
    assert_eq!(
        stated,
        "100; PI-1: ± 1.6, rectangular; the standard's limit for the pipette recorded, ISO \
         8655-2:2002, table 1 (from memory), in µL; PI-1, each delivery: standard deviation 0.6, \
         mean of 1"
    );
    // 1000 µL: 8 µL and 3 µL (as printed in a calibration paper of 2019): u = 5.507571 µL;
    // 75/6 · 5.507571/100 = 0.688446.
    assert_eq!(records.line("dilution, diluent").1, "0.688446");
    assert!(records.names(SMALL) && records.names(LARGE) && !records.names(SITE));
}

#[test]
fn without_a_name_the_smallest_pipette_of_the_bench_stands_in() {
    let records = Records::new()
        .with(SMALL, "equipment", pipette("PI-1", "20", "200"))
        .with(LARGE, "equipment", pipette("PI-2", "100", "1000"))
        .with(HUGE, "equipment", pipette("PI-3", "1", "10000"))
        .change(
            SITE,
            "/bench",
            json!({"pipettes": [id(HUGE), id(LARGE), id(SMALL)]}),
        );
    let (_, contribution, stated) = records.line("dilution, sample volume");
    assert_eq!(contribution, "0.688446");
    assert!(
        stated.contains("for the pipette that stands there"),
        "{stated}"
    );
    assert!(records.names(SITE) && records.names(SMALL) && !records.names(HUGE));
    // Without a bench, of those at the site.
    let records = records.change(SITE, "/bench", json!({}));
    assert_eq!(records.line("dilution, diluent").1, "0.688446");
    assert!(records.names(LARGE) && !records.names(HUGE));
}

#[test]
fn what_stood_there_when_the_run_was_recorded_goes_before_what_stands_there_now() {
    let records = Records::new()
        .with(SMALL, "equipment", pipette("PI-1", "20", "200"))
        .with(LARGE, "equipment", pipette("PI-2", "100", "1000"))
        .with(HUGE, "equipment", pipette("PI-3", "1", "10000"))
        .change(
            RUN,
            "/pipettes_at_hand",
            json!([id(HUGE), id(SMALL), id(LARGE)]),
        )
        .change(SITE, "/bench", json!({"pipettes": [id(HUGE)]}));
    let (_, contribution, stated) = records.line("dilution, sample volume");
    assert_eq!(contribution, "0.688446");
    assert!(stated.contains("PI-1"), "{stated}");
    assert!(records.names(SMALL) && !records.names(SITE) && !records.names(HUGE));
}

#[test]
fn without_any_pipette_the_standard_speaks_for_the_volume() {
    let records = Records::new();
    let (_, contribution, stated) = records.line("dilution, sample volume");
    // ISO 8655-2:2002, table 1 (from memory): 100 µL: 0.8 µL, 0.3 µL; u = 0.550757 µL.
    assert_eq!(contribution, "0.344223");
    assert!(stated.contains("since no pipette is recorded"), "{stated}");
    // More than 10 mL is measured in a cylinder: ISO 4788:2005 (from memory), 25 mL, class B:
    // 0.5 mL = 500 µL; the factor is 201, the value 2512.5: 2512.5/201 · 500/(100√3) = 36.084392.
    let large = Records::new()
        .change(RUN, "/dilution/0/diluent_volume_ul", json!("20000"))
        .change(
            RUN,
            "/factor",
            json!({"numerator": "201", "denominator": "1"}),
        );
    let (_, contribution, stated) = large.line("dilution, diluent");
    assert_eq!(contribution, "36.084392");
    assert!(
        stated.contains("25 mL, class B, since none is recorded, in µL"),
        "{stated}"
    );
    let beyond = large.change(RUN, "/dilution/0/diluent_volume_ul", json!("2000000"));
    let beyond = beyond.change(
        RUN,
        "/factor",
        json!({"numerator": "20001", "denominator": "1"}),
    );
    assert!(
        beyond.result().uncertainty.is_none(),
        "no budget is made up"
    );
}

#[test]
fn more_than_a_pipette_holds_takes_several_strokes() {
    let records = Records::new()
        .with(SMALL, "equipment", pipette("PI-1", "20", "200"))
        .change(RUN, "/dilution/0/pipette", json!(id(SMALL)));
    // 500 µL in three strokes of a 200 µL pipette: 3 · 1.6 µL, and √3 · 0.6 µL.
    let (_, contribution, stated) = records.line("dilution, diluent");
    assert!(stated.contains("± 4.8, rectangular"), "{stated}");
    // 75/6 · √(4.8²/3 + 3 · 0.6²)/100 = 0.369966.
    assert_eq!(contribution, "0.369966");
}

#[test]
fn mass_and_liquid_have_the_limits_of_their_equipment() {
    let balance = |more: Value| {
        let mut one = json!({"code": "BA-1", "kind": "balance", "name": "Balance"});
        one.as_object_mut()
            .unwrap()
            .extend(more.as_object().unwrap().clone());
        one
    };
    let known = json!({"accuracy_class": "II", "verification_interval_g": "0.01"});
    let records = Records::new()
        .with(BALANCE, "equipment", balance(known))
        .with(
            CYLINDER,
            "equipment",
            json!({"code": "CY-1", "kind": "cylinder", "name": "100 mL",
                "nominal_volumes_ul": ["50000", "100000"], "glass_standard": "astm-e1272",
                "glass_class": "A"}),
        );
    // OIML R 76-1:2006, table 6 (from memory): class II, 10 g = 1000 e: 0.5 e on verification, 1 e
    // in service: 0.01 g; 75 · 0.01/(10√3) = 0.043301.
    let (source, contribution, stated) = records.line("test portion");
    assert_eq!(
        (source.as_str(), contribution.as_str()),
        ("test portion: BA-1", "0.043301")
    );
    assert!(stated.ends_with("in service, e = 0.01 g, in g"), "{stated}");
    // ASTM E1272-02 (2012), table 1: 100 mL, class A: 0.50 mL; 75 · 0.5/(50√3) = 0.433013.
    let (source, contribution, _) = records.line("extraction liquid");
    assert_eq!(
        (source.as_str(), contribution.as_str()),
        ("extraction liquid: CY-1", "0.433013")
    );
    assert!(records.names(BALANCE) && records.names(CYLINDER));
    assert!(records.names(PORTION) && records.names(EXTRACT));
    // Nothing is known of either: e is the last place of 10.0 g, class III: 1 e in service, 0.1 g;
    // the smallest cylinder of ISO 4788:2005 (from memory), 50 mL, class B: 1.0 mL.
    let bare = Records::new();
    let (source, contribution, stated) = bare.line("test portion");
    assert_eq!(
        (source.as_str(), contribution.as_str()),
        ("test portion: balance", "0.433013")
    );
    assert!(
        stated.contains("the last place written, since none is recorded"),
        "{stated}"
    );
    assert_eq!(bare.line("extraction liquid").1, "0.866025");
    // The procedure's own tolerance goes before what is assumed.
    let tolerances = json!({"test_portion_mass_g": "10", "test_portion_tolerance_g": "0.05"});
    let tolerant = bare.change(PROCEDURE, "/tolerances", tolerances);
    assert_eq!(tolerant.line("test portion").1, "0.216506");
}

#[test]
fn a_run_that_names_no_extract_is_of_the_only_one() {
    let exported = Records::new().change(RUN, "/extract", Value::Null);
    assert_eq!(exported.line("extraction liquid").1, "0.866025");
    let second = json!({"kind": "extract", "sample": id(SAMPLE),
        "at": "2026-03-01T07:50:00.000000Z"});
    let two = exported.with(HUGE, "preparation", second);
    let lines = two.result().uncertainty.unwrap().lines;
    assert!(
        lines
            .iter()
            .all(|line| !line.source.starts_with("extraction"))
    );
    assert!(two.names(EXTRACT) && two.names(HUGE), "both were looked at");
}

#[test]
fn bias_and_recovery_come_from_the_procedure_and_its_control_material() {
    let bias = json!([{"analyte": "aflatoxin-total", "control_material": id(MATERIAL),
        "mean_found": "19.8", "standard_deviation": "1.2", "determinations": 9}]);
    let recoveries = json!([{"analyte": "aflatoxin-total", "recovery": "0.8",
        "standard_uncertainty": "0.04"}]);
    let material = |more: Value| {
        let mut assigned = json!({"analyte": "aflatoxin-total", "assigned_value": "20",
            "lower": "15", "upper": "25"});
        assigned
            .as_object_mut()
            .unwrap()
            .extend(more.as_object().unwrap().clone());
        json!({"code": "CM-1", "name": "maize", "commodity": "maize-grain", "lot": "1",
            "expires_on": "2027-01-31", "analytes": [assigned]})
    };
    let certified = json!({"expanded_uncertainty": "1.2", "coverage_factor": "2"});
    let records = Records::new()
        .change(PROCEDURE, "/bias", bias)
        .change(PROCEDURE, "/recoveries", recoveries)
        .with(MATERIAL, "control-material", material(certified));
    // 75 · 1.2/(√9 · 19.8) and 75 · 0.6/20 (QUAM:2012.P1, 7.7); 75 · 0.04/0.8.
    assert_eq!(records.line("bias, mean").1, "1.515152");
    assert_eq!(records.line("bias, assigned").1, "2.250000");
    assert_eq!(records.line("recovery").1, "3.750000");
    assert!(records.names(MATERIAL));
    let unsure = records.with(MATERIAL, "control-material", material(json!({})));
    let lines = unsure.result().uncertainty.unwrap().lines;
    assert!(
        lines.iter().all(|line| !line.source.starts_with("bias")),
        "a value without a stated uncertainty shows no bias"
    );
}

#[test]
fn the_squares_of_the_lines_are_that_of_the_combined_uncertainty() {
    let kept = Records::new().result().uncertainty.unwrap();
    assert_eq!(kept.coverage_factor.to_string(), "2");
    let squares: rust_decimal::Decimal = kept
        .lines
        .iter()
        .map(|line| line.contribution.ug_per_kg() * line.contribution.ug_per_kg())
        .sum();
    let half = kept.expanded.ug_per_kg() / rust_decimal::Decimal::TWO;
    assert!((squares - half * half).abs() < rust_decimal::Decimal::new(1, 4));
    assert!(kept.lines.len() >= 6);
}

#[test]
fn new_rules_by_themselves_change_nothing_that_was_released() {
    let records = Records::new();
    let anew = |records: &Records, before: &ResultVersion| {
        records.computed(
            |_| true,
            |known, dossier, limits| {
                let analyte = Analyte::AflatoxinTotal;
                compute_result_anew(2, Some(before), known, dossier, analyte, limits).unwrap()
            },
        )
    };
    let first = records.computed(
        |_| true,
        |known, dossier, limits| {
            compute_result(1, known, dossier, Analyte::AflatoxinTotal, limits).unwrap()
        },
    );
    let ready = ResultVersion::first(first, false);
    let released = ready.release(false).unwrap();
    assert_eq!(anew(&records, &ready).rules, 2, "nobody has signed it");
    assert_eq!(anew(&records, &released), released.computed);
    let corrected = records.change(RUN, "/readings/0/value", json!("13.5"));
    let next = anew(&corrected, &released);
    assert_eq!((next.rules, next.reported.as_deref()), (2, Some("81.0")));
}
