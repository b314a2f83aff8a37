//! Kit lots compared: a published example, pairs, too few of them, and each criterion.
#![expect(clippy::unwrap_used, reason = "tests may unwrap")]

use super::{
    AnalyteComparison, KitLotComparison, KitLotComparisonInput, KitLotVerdict, UnpairedReason,
    compare,
};
use crate::analytes::Analyte;
use crate::kit_lots::{KitLot, KitLotEntry, KitLotError, KitLotState};
use crate::procedures::{KitLotCriterion, ProcedureEntry};
use crate::results::Facts;
use crate::runs::{Run, RunState};
use crate::versions::SubjectVersion;

const THING: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

fn source(number: usize) -> SubjectVersion {
    SubjectVersion {
        subject: format!("019ca869-5003-7d46-b59c-00000000{number:04}")
            .parse()
            .unwrap(),
        version: 1,
    }
}

fn lot() -> KitLotEntry {
    let mut lot: KitLotEntry = serde_json::from_str(include_str!("../example.json")).unwrap();
    lot.analytes = serde_json::from_str(r#"[{"analyte":"zearalenone","upper":"500"}]"#).unwrap();
    lot
}

fn procedure(criterion: &str) -> ProcedureEntry {
    let mut entry: ProcedureEntry =
        serde_json::from_str(include_str!("../../procedures/example.json")).unwrap();
    let range = r#"[{"analyte":"zearalenone","lod":"1","loq":"5","upper":"500"}]"#;
    entry.analytes = serde_json::from_str(range).unwrap();
    entry.kit_lot_acceptance = serde_json::from_str(&format!("[{criterion}]")).unwrap();
    entry
}

fn run(sample: usize, minute: usize, value: &str) -> Run {
    serde_json::from_str(&format!(
        r#"{{"state":"recorded","factor":{{"numerator":"1","denominator":"1"}},"port":1,
            "sample":"{}","kit_lot":"{THING}","procedure":"{THING}",
            "read_at":"2026-03-01T08:{minute:02}:00Z","readings":[{{"analyte":"zearalenone",
            "kind":"number","value":"{value}","unit":"ug/kg"}}]}}"#,
        source(9000 + sample).subject
    ))
    .unwrap()
}

/// The runs, numbered from `first`.
fn facts(first: usize, runs: &[Run]) -> Vec<Facts<'_, Run>> {
    let each = runs.iter().enumerate();
    each.map(|(place, content)| Facts {
        source: source(first + place),
        content,
    })
    .collect()
}

fn compared(procedure: &ProcedureEntry, used: &[Run], new: &[Run]) -> KitLotComparison {
    let lot = lot();
    compare(&KitLotComparisonInput {
        lot: &lot,
        compared_with: Facts {
            source: source(1),
            content: &lot,
        },
        procedure: Facts {
            source: source(2),
            content: procedure,
        },
        runs: &facts(200, new),
        compared_runs: &facts(100, used),
    })
    .unwrap()
}

fn only(comparison: &KitLotComparison) -> &AnalyteComparison {
    comparison.analytes.first().unwrap()
}

/// One run of each sample.
fn each(values: &[&str]) -> Vec<Run> {
    let numbered = values.iter().enumerate();
    numbered
        .map(|(sample, value)| run(sample, sample, value))
        .collect()
}

// Student (W. S. Gosset), Biometrika 6 (1908) 1, table of Cushny and Peebles: additional hours of
// sleep by two drugs, here with 10 added to both, which leaves their differences as they are. The
// mean difference, 1.58, is in the paper; the interval, 0.7001142 to 2.4598858, is what the
// documentation of R prints for `t.test` of these data, paired.
const ONE: [&str; 10] = [
    "10.7", "8.4", "9.8", "8.8", "9.9", "13.4", "13.7", "10.8", "10.0", "12.0",
];
const OTHER: [&str; 10] = [
    "11.9", "10.8", "11.1", "10.1", "9.9", "14.4", "15.5", "11.6", "14.6", "13.4",
];

#[test]
fn the_interval_of_paired_differences_is_the_published_one() {
    let said = compared(&procedure(""), &each(&ONE), &each(&OTHER));
    let one = only(&said);
    assert_eq!((one.pairs.len(), one.unpaired.len()), (10, 0));
    let found = one.difference.as_ref().unwrap();
    assert_eq!(found.mean_difference.to_string(), "1.58");
    let [low, high] = found.interval;
    assert_eq!(low.0.round_dp(7).to_string(), "0.7001142");
    assert_eq!(high.0.round_dp(7).to_string(), "2.4598858");
    // 1.58 / 10.75
    let fraction = found.fraction.unwrap().0.round_dp(5);
    assert_eq!(fraction.to_string(), "0.14698");
    assert_eq!(said.verdict, KitLotVerdict::NoCriterion);
    assert_eq!(said.runs.len(), 20);
}

#[test]
fn the_larger_of_amount_and_fraction_is_allowed_and_no_more() {
    use KitLotVerdict::{Agrees, Differs};
    let verdict = |criterion: &str| {
        let criterion = format!(r#"{{"analyte":"zearalenone","minimum_pairs":10,{criterion}}}"#);
        let said = compared(&procedure(&criterion), &each(&ONE), &each(&OTHER));
        (only(&said).allowed.unwrap().to_string(), said.verdict)
    };
    let amount = r#""largest_difference":"1.58""#;
    assert_eq!(verdict(amount), ("1.58".into(), Agrees));
    let amount = r#""largest_difference":"1.57""#;
    assert_eq!(verdict(amount), ("1.57".into(), Differs));
    let fraction = r#""largest_fraction":"0.2""#;
    assert_eq!(verdict(fraction), ("2.15".into(), Agrees));
    let both = r#""largest_difference":"1","largest_fraction":"0.1""#;
    assert_eq!(verdict(both), ("1.075".into(), Differs));
}

#[test]
fn fewer_pairs_than_the_criterion_asks_for_cannot_tell() {
    let criterion = r#"{"analyte":"zearalenone","largest_difference":"50","minimum_pairs":3}"#;
    let procedure = procedure(criterion);
    let two = compared(&procedure, &each(&["20", "40"]), &each(&["21", "41"]));
    assert_eq!(two.verdict, KitLotVerdict::CannotTell);
    assert!(only(&two).difference.is_some(), "its figures are shown");
    let one = compared(&procedure, &each(&["20"]), &each(&["21"]));
    assert_eq!(only(&one).difference, None);
    assert_eq!(one.verdict, KitLotVerdict::CannotTell);
    let none = compared(&procedure, &[], &[]);
    assert_eq!(none.verdict, KitLotVerdict::CannotTell);
    let (used, new) = (each(&["20", "40", "30"]), each(&["21", "41", "30"]));
    let three = compared(&procedure, &used, &new);
    assert_eq!(three.verdict, KitLotVerdict::Agrees);
}

#[test]
fn each_run_stands_in_one_pair_or_says_why_not() {
    let mut withdrawn = run(1, 9, "20");
    withdrawn.state = RunState::Withdrawn;
    let used = [run(1, 3, "22"), run(1, 1, "20"), run(2, 4, "30"), withdrawn];
    let new = [
        run(1, 5, "21"),
        run(1, 6, "24"),
        run(1, 7, "25"),
        run(3, 8, "2"),
    ];
    let said = compared(&procedure(""), &used, &new);
    let one = only(&said);
    let pairs: Vec<(String, String)> = one
        .pairs
        .iter()
        .map(|pair| (pair.compared_value.to_string(), pair.value.to_string()))
        .collect();
    let as_read = [("20", "21"), ("22", "24")].map(|(used, new)| (used.into(), new.into()));
    assert_eq!(pairs, as_read, "in the order of the times read");
    let unpaired = one.unpaired.iter();
    let reasons: Vec<_> = unpaired.map(|one| (one.run.0, one.reason)).collect();
    assert_eq!(
        reasons,
        [
            (source(102).subject, UnpairedReason::NoPartner),
            (source(103).subject, UnpairedReason::DoesNotCount),
            (source(202).subject, UnpairedReason::NoPartner),
            (source(203).subject, UnpairedReason::NotInRange),
        ]
    );
}

#[test]
fn an_acceptance_that_the_criterion_does_not_bear_out_needs_a_reason() {
    let lot = KitLot::quarantine(lot()).unwrap();
    let text = r#"{"analyte":"zearalenone","largest_difference":"2","minimum_pairs":10}"#;
    let criterion: KitLotCriterion = serde_json::from_str(text).unwrap();
    let asked = [criterion];
    let other = [KitLotCriterion {
        analyte: Analyte::OchratoxinA,
        ..criterion
    }];
    let accept = |comparison: Option<KitLotComparison>, criteria: &[_], has_reason: bool| {
        lot.accept_compared(vec![], comparison, criteria, has_reason)
    };
    assert!(accept(None, &[], false).is_ok(), "where none is stated");
    assert!(accept(None, &other, false).is_ok(), "nor for its analytes");
    let refused = accept(None, &asked, false).unwrap_err();
    assert!(
        matches!(refused, KitLotError::NotBorneOut { .. })
            && refused.to_string().contains("compare"),
        "{refused}"
    );
    let accepted = accept(None, &asked, true).unwrap();
    assert_eq!(accepted.state, KitLotState::Accepted);
    let written = serde_json::to_string(&accepted).unwrap();
    assert!(!written.contains("comparison"), "as records were before");

    let agrees = compared(&procedure(text), &each(&ONE), &each(&OTHER));
    let borne_out = accept(Some(agrees.clone()), &asked, false).unwrap();
    assert_eq!(borne_out.comparison, Some(agrees));
    let stricter = text.replace("\"2\"", "\"1\"");
    let differs = compared(&procedure(&stricter), &each(&ONE), &each(&OTHER));
    let refused = accept(Some(differs.clone()), &asked, false).unwrap_err();
    let said = refused.to_string();
    assert!(said.contains("1.58") && said.contains("differs"), "{said}");
    assert!(accept(Some(differs), &asked, true).is_ok());
    assert!(lot.reject(vec![]).is_ok(), "rejecting is always possible");
}
