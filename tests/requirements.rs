//! What the trade asks of records, row by row, in `requirements.csv`: met and shown by a test,
//! planned, or not ours and why.

use crate::permissions::project;
use std::collections::BTreeMap;

/// How many rows each part of the list has: the whole list is 121 rows.
const PARTS: &[(&str, u32)] = &[
    ("AT", 13),
    ("IM", 10),
    ("SG", 15),
    ("AC", 14),
    ("SQ", 5),
    ("RV", 6),
    ("CP", 4),
    ("RT", 8),
    ("CL", 3),
    ("TR", 10),
    ("EQ", 6),
    ("QC", 2),
    ("CE", 13),
    ("DR", 3),
    ("OP", 1),
    ("AM", 4),
    ("LM", 3),
    ("IN", 1),
];

#[derive(serde::Deserialize)]
struct Row {
    id: String,
    requirement: String,
    status: String,
    shown_by_or_why: String,
}

#[test]
fn requirements_that_are_met_name_tests_that_exist() {
    let table = include_str!("requirements.csv");
    let mut wrong = Vec::new();
    let mut seen = BTreeMap::new();
    for row in csv::Reader::from_reader(table.as_bytes()).deserialize::<Row>() {
        let row = row.unwrap();
        if row.requirement.trim().is_empty() || row.shown_by_or_why.trim().is_empty() {
            wrong.push(format!(
                "{}: say what it asks, and by what it is met or why not",
                row.id
            ));
        }
        match row.status.as_str() {
            "planned" | "not-ours" => {}
            "met" => {
                for test in row.shown_by_or_why.split_whitespace() {
                    let there = test.split_once("::").is_some_and(|(file, name)| {
                        std::fs::read_to_string(project().join(file))
                            .is_ok_and(|text| text.contains(&format!("fn {name}(")))
                    });
                    if !there {
                        wrong.push(format!(
                            "{}: there is no test {test}; name the one that shows it, or say \
                             planned",
                            row.id
                        ));
                    }
                }
            }
            other => wrong.push(format!("{}: \"{other}\" is no status", row.id)),
        }
        *seen.entry(row.id).or_insert(0) += 1;
    }
    for (part, rows) in PARTS {
        for number in 1..=*rows {
            let id = format!("{part}-{number:02}");
            if seen.remove(&id) != Some(1) {
                wrong.push(format!(
                    "{id}: it must stand in tests/requirements.csv once"
                ));
            }
        }
    }
    wrong.extend(
        seen.into_keys()
            .map(|id| format!("{id}: nobody asks for it")),
    );
    assert!(wrong.is_empty(), "{wrong:#?}");
}
