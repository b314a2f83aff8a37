//! Computes every published worked example of `tests/worked_examples/` through the domain.
//!
//! Reads the files, prints for each topic how many examples ran and how many agreed within their
//! tolerance, and fails for one that disagrees or that nothing computes. `ASSIZE_WORKED_EXAMPLES`
//! names a further folder of such files. The tests of the service compute the same examples over
//! HTTP, with the same modules but for `call`.

mod calibration;
mod call;
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
mod topics;

use std::io::Write;

/// Past the capture of the test runner, so that every run says what it covered.
fn say(line: &str) {
    let written = writeln!(std::io::stdout(), "{line}");
    assert!(written.is_ok(), "standard output is closed");
}

#[test]
fn every_worked_example_is_reproduced() -> Result<(), String> {
    let reproduced = topics::reproduce()?;
    for line in reproduced.lines() {
        say(&line);
    }
    let found = reproduced.all().found;
    assert!(found >= 97, "only {found} examples were found");
    assert!(
        reproduced.problems.is_empty(),
        "{} problems:\n{}",
        reproduced.problems.len(),
        reproduced.problems.join("\n")
    );
    Ok(())
}
