//! The second verifier, in Python: whether it can run here, and what it says of many cases.

use serde_json::{Value, json};
use std::{
    io::Write as _,
    process::{Command, Stdio},
};

/// What a verifier said of a case.
#[derive(Debug)]
pub(super) struct Said {
    pub(super) exit: i64,
    pub(super) text: String,
}

/// What the second verifier says of each case; none where it cannot run, which is said loudly.
///
/// Where the tests decide whether a change may land (`CI=true`), a Python without the package
/// `cryptography` is a failure: a package was forgotten. A machine without any Python is not.
pub(super) fn second(cases: &[Value]) -> Option<Vec<Said>> {
    let probe = Command::new("python3")
        .args([
            "-c",
            "import cryptography, sys; sys.exit(sys.version_info < (3, 11))",
        ])
        .stderr(Stdio::null())
        .status();
    match probe {
        Err(absent) => {
            eprintln!("NOT RUN: the second verifier needs python3, which is not here ({absent})");
            return None;
        }
        Ok(status) if !status.success() => {
            let why = "python3 is older than 3.11 or has no package `cryptography` \
                       (apt-get install python3-cryptography)";
            assert!(
                std::env::var_os("CI").is_none(),
                "the second verifier: {why}"
            );
            eprintln!("NOT RUN: the second verifier: {why}");
            return None;
        }
        Ok(_) => {}
    }
    let script = crate::permissions::project().join("tests/verifier/verify.py");
    let mut child = Command::new("python3")
        .arg("-B")
        .arg(script)
        .arg("--cases")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let input = json!(cases).to_string();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(input.as_bytes())
        .unwrap();
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success(), "the second verifier broke off");
    let said: Vec<Value> = serde_json::from_slice(&done.stdout).unwrap();
    let of_one = |one: &Value| Said {
        exit: one["exit"].as_i64().unwrap(),
        text: one["lines"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line.as_str().unwrap())
            .collect::<Vec<_>>()
            .join("\n"),
    };
    Some(said.iter().map(of_one).collect())
}
