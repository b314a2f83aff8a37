//! Every published worked example, computed over HTTP by whoever has a token.

use super::{call, topics};
use crate::{harness::callers::serve, permissions::project};
use std::io::Write as _;

/// Past the capture of the test runner, so that every run says what it covered.
fn say(line: &str) {
    let written = writeln!(std::io::stdout(), "{line}");
    assert!(written.is_ok(), "standard output is closed");
}

#[actix_web::test]
async fn every_worked_example_is_reproduced_over_http() {
    let app = serve().await;
    let caller = app.integrator().await;
    let runtime = tokio::runtime::Handle::current();
    let work = move || call::as_caller(runtime, caller, topics::reproduce);
    let (reproduced, _called) = tokio::task::spawn_blocking(work).await.unwrap();
    let reproduced = reproduced.unwrap();
    for line in reproduced.lines() {
        say(&format!("over HTTP: {line}"));
    }
    let problems = &reproduced.problems;
    assert!(
        problems.is_empty(),
        "{} problems:\n{}",
        problems.len(),
        problems.join("\n")
    );
    let all = reproduced.all();
    assert!(all.found >= 97, "only {} were found", all.found);
    assert_eq!((all.ran, all.agreed), (all.found, all.found));
    let records = "SELECT count(*) AS number FROM corrections_correction";
    assert_eq!(app.count(records).await, 0, "nothing is recorded");
}

/// The README's table is what this test and its twin in the domain print.
#[test]
fn the_readme_says_how_many_examples_there_are() {
    let readme = std::fs::read_to_string(project().join("README.md")).unwrap();
    let folder = project().join("tests/worked_examples");
    let (mut files, mut all) = (0, 0);
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "toml") {
            continue;
        }
        let count = super::case::Case::all_of(&path).unwrap().len();
        let topic = path.file_stem().unwrap().to_string_lossy().into_owned();
        let row = readme.lines().find(|line| line.contains(&topic));
        let row = row.unwrap_or_default();
        let stands = format!("| {count} | {count} of {count} | {count} of {count} |");
        assert!(
            row.ends_with(&stands),
            "README.md, {topic}: \"{row}\" should end with \"{stands}\""
        );
        (files, all) = (files + 1, all + count);
    }
    assert_eq!(files, 12);
    assert!(readme.contains(&format!(
        "| all | {all} | {all} of {all} | {all} of {all} |"
    )));
}
