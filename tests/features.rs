//! The service and its tests are built from one set of compiled dependencies: whoever runs both
//! waits for the typesetter once.

use crate::permissions::project;
use std::{collections::BTreeSet, process::Command};

/// Each package with its features, as Cargo would build it.
fn packages(of: &[&str]) -> BTreeSet<String> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let told = Command::new(cargo)
        .current_dir(project())
        .args(["tree", "--locked", "--offline", "--quiet", "--prefix=none"])
        .args(["--format={p} {f}"])
        .args(of)
        .output()
        .unwrap();
    let text = String::from_utf8(told.stdout).unwrap();
    assert!(told.status.success(), "{of:?}");
    text.lines()
        .map(|line| line.trim_end_matches(" (*)").to_owned())
        .filter(|line| !line.is_empty())
        .collect()
}

#[test]
fn features_of_the_dependencies_are_those_of_the_tests() {
    let service = packages(&["--package=assize", "--edges=normal,build"]);
    let tests = packages(&["--workspace", "--edges=normal,build,dev"]);
    let twice: Vec<&String> = service.difference(&tests).collect();
    assert!(
        service.len() > 100 && twice.is_empty(),
        "compiled for the service and again, with other features, for the tests: name the features \
         in api/Cargo.toml: {twice:#?}"
    );
}
