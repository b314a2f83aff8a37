//! How many instructions one result takes, counted by callgrind: the same on every machine of a
//! kind, however busy it is.
//!
//! Promises the difference of two counts, so that starting and reading the scene do not count;
//! where valgrind is missing it says so and counts nothing.

use std::{
    env,
    fmt::Write as _,
    io::ErrorKind,
    process::{Command, Stdio},
};

use super::Failure;

/// The argument by which this program does nothing but compute one result, again and again.
pub(crate) const MODE: &str = "--one-result";

const FEW: u64 = 20;
const MANY: u64 = 120;

/// A line for each number of rules.
pub(crate) fn lines() -> Result<String, Failure> {
    let mut text = String::new();
    let kinds = [
        (2, "with budget, probabilities and its run's holds"),
        (1, "by rules 1: without budget"),
    ];
    for (rules, name) in kinds {
        let (Some(few), Some(many)) = (counted(rules, FEW)?, counted(rules, MANY)?) else {
            return Ok(
                "  instructions are not counted: valgrind is missing (Debian package valgrind)\n"
                    .to_owned(),
            );
        };
        let each = many.saturating_sub(few) / (MANY - FEW);
        writeln!(
            text,
            "  {:<52}{:>10} instructions",
            format!("a result, {name}"),
            grouped(each)
        )?;
    }
    Ok(text)
}

/// Instructions of a whole run of this program; none where there is no valgrind.
fn counted(rules: u32, count: u64) -> Result<Option<u64>, Failure> {
    let run = Command::new("valgrind")
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg(env::current_exe()?)
        .args([MODE, &rules.to_string(), &count.to_string()])
        .stdin(Stdio::null())
        .output();
    let output = match run {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        other => other?,
    };
    let said = String::from_utf8_lossy(&output.stderr);
    if !output.status.success() {
        return Err(format!("valgrind: {}: {said}", output.status).into());
    }
    let collected = said
        .lines()
        .find_map(|line| line.split_once("Collected : "))
        .ok_or_else(|| format!("callgrind collected nothing: {said}"))?;
    Ok(Some(collected.1.trim().parse()?))
}

/// With a comma at every thousand.
fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
