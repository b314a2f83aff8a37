//! Computes every published worked example of `tests/worked_examples/` through the domain.
//!
//! Reads the files, prints for each topic how many examples ran and how many agreed within their
//! tolerance, and fails for one that disagrees or that nothing computes. `ASSIZE_WORKED_EXAMPLES`
//! names a further folder of such files.
#![expect(clippy::panic, reason = "a test may panic")]

mod calibration;
mod case;
mod censored;
mod control;
mod decision_rules;
mod detection;
mod dilution_uncertainty;
mod gather;
mod logistic;
mod precision;
mod proficiency;
mod recovery_combination;
mod rounding;
mod screening;

use case::{Answers, Case, Failure};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What computes the examples of one file.
struct Topic {
    /// The file's name without its ending.
    file: &'static str,
    /// Gives what it computed under the names of `expected`; [`Failure::Unknown`] for an example
    /// that it has no computation for.
    compute: fn(&Case) -> Result<Answers, Failure>,
}

/// One line a topic.
const TOPICS: &[Topic] = &[
    topic("01_dilution_uncertainty", dilution_uncertainty::compute),
    topic("02_decision_rules", decision_rules::compute),
    topic("03_precision", precision::compute),
    topic("04_proficiency", proficiency::compute),
    topic("05_control_charts", control::compute),
    topic("06_detection_limits", detection::compute),
    topic("07_left_censored", censored::compute),
    topic("08_four_parameter_logistic", logistic::compute),
    topic("09_linear_calibration", calibration::compute),
    topic("10_screening_statistics", screening::compute),
    topic("11_rounding", rounding::compute),
    topic("12_recovery_combination", recovery_combination::compute),
];

const fn topic(file: &'static str, compute: fn(&Case) -> Result<Answers, Failure>) -> Topic {
    Topic { file, compute }
}

fn folders() -> Vec<PathBuf> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/worked_examples");
    let further = std::env::var_os("ASSIZE_WORKED_EXAMPLES").map(PathBuf::from);
    [own].into_iter().chain(further).collect()
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(listing) = std::fs::read_dir(folder) else {
        panic!("{} cannot be read", folder.display());
    };
    let mut paths: Vec<PathBuf> = listing.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    paths.sort();
    paths
}

/// Past the capture of the test runner, so that every run says what it covered.
fn say(line: &str) {
    let written = writeln!(std::io::stdout(), "{line}");
    assert!(written.is_ok(), "standard output is closed");
}

#[test]
fn every_worked_example_is_reproduced() {
    let mut problems = Vec::new();
    let (mut found, mut all_ran, mut all_agreed) = (0, 0, 0);
    for path in folders().iter().flat_map(|folder| files(folder)) {
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        let cases = match Case::all_of(&path) {
            Ok(cases) => cases,
            Err(problem) => panic!("{}: {problem}", path.display()),
        };
        found += cases.len();
        let Some(topic) = TOPICS.iter().find(|topic| topic.file == name) else {
            problems.push(format!("{name}: no topic computes this file"));
            continue;
        };
        let (mut ran, mut agreed) = (0, 0);
        for case in &cases {
            match (topic.compute)(case) {
                Err(Failure::Unknown) => {
                    problems.push(format!("{name}: {}: nothing computes it", case.id));
                }
                Err(Failure::Because(why)) => {
                    ran += 1;
                    problems.push(format!("{name}: {}: {why}", case.id));
                }
                Ok(answers) => {
                    ran += 1;
                    let wrong = case.disagreements(&answers);
                    agreed += usize::from(wrong.is_empty());
                    let named = |what| format!("{name}: {}: {what}", case.id);
                    problems.extend(wrong.into_iter().map(named));
                }
            }
        }
        say(&format!(
            "{name}: {} examples, {ran} ran, {agreed} agreed",
            cases.len()
        ));
        all_ran += ran;
        all_agreed += agreed;
    }
    say(&format!(
        "all topics: {found} examples, {all_ran} ran, {all_agreed} agreed"
    ));
    assert!(found >= 97, "only {found} examples were found");
    assert!(
        problems.is_empty(),
        "{} problems:\n{}",
        problems.len(),
        problems.join("\n")
    );
}

#[test]
fn each_file_has_one_topic() {
    let own = folders().into_iter().next().unwrap_or_default();
    for path in files(&own) {
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        let computed = TOPICS.iter().filter(|topic| topic.file == name).count();
        assert_eq!(computed, 1, "{name}");
    }
}
