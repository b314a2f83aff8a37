//! Which limits a lot meets: every case of `tests/data/limit_scope_cases.csv`, exactly.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "tests may unwrap and print"
)]

use domain::commodities::Vocabulary;
use domain::limits::{Query, applicable, shipped_limits};

#[derive(serde::Deserialize)]
struct Case {
    case: String,
    jurisdiction: String,
    analyte: String,
    commodity_id: String,
    use_id: String,
    date: String,
    expected_limit_ids: String,
    why: String,
}

#[test]
fn every_lot_of_the_table_meets_exactly_the_limits_meant_for_it() {
    let vocabulary = Vocabulary::shipped().unwrap();
    let limits = shipped_limits().unwrap();
    let table = include_str!("../../tests/data/limit_scope_cases.csv");
    let mut run = 0;
    let mut wrong = Vec::new();
    for case in csv::Reader::from_reader(table.as_bytes()).deserialize::<Case>() {
        let case = case.unwrap();
        let query = Query {
            jurisdiction: case.jurisdiction.parse().unwrap(),
            analyte: case.analyte.parse().unwrap(),
            commodity: case.commodity_id,
            intended_use: case.use_id,
            date: case.date.parse().unwrap(),
        };
        let found: Vec<_> = applicable(&limits, &vocabulary, &query)
            .unwrap()
            .into_iter()
            .map(|applied| applied.limit.id.clone())
            .collect();
        let expected: Vec<_> = case.expected_limit_ids.split_whitespace().collect();
        if found != expected {
            wrong.push(format!(
                "{}: {expected:?}, found {found:?} ({})",
                case.case, case.why
            ));
        }
        run += 1;
    }
    println!("{run} cases of limit scope, {} wrong", wrong.len());
    assert_eq!(wrong, Vec::<String>::new());
    assert_eq!(run, 270);
}
