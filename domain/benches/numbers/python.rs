//! The other side: one Python process that answers a line for each line it is asked.
//!
//! Promises the seconds that it took itself, without its own start and without what is sent;
//! refuses an answer that is none.

use std::{
    env,
    io::{BufRead as _, BufReader, Write as _},
    process::{Child, ChildStdin, ChildStdout, Command, Stdio},
    time::Duration,
};

use serde::Deserialize;

use super::Failure;

const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/compared/measure.py");

/// How to get what is missing, from the project's folder.
const HOW: &str = "python3 -m venv var/bench-python && \
                   var/bench-python/bin/pip install -r tests/compared/requirements.txt";

/// The process; it ends with the value.
pub(crate) struct Python {
    child: Child,
    questions: Option<ChildStdin>,
    answers: BufReader<ChildStdout>,
    /// Of Python, NumPy and SciPy.
    pub(crate) versions: String,
}

#[derive(Deserialize)]
struct Ready {
    versions: String,
}

#[derive(Deserialize)]
struct Answer {
    seconds: f64,
    figures: Vec<f64>,
}

impl Python {
    /// Starts it, or says in one line why it cannot.
    pub(crate) fn start() -> Result<Self, String> {
        let name = env::var("ASSIZE_BENCH_PYTHON").unwrap_or_else(|_unset| "python3".to_owned());
        Self::started(&name)
            .map_err(|error| format!("{name} does not import them ({error}); to have it: {HOW}"))
    }

    fn started(name: &str) -> Result<Self, Failure> {
        let mut child = Command::new(name)
            .arg(SCRIPT)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()?;
        let (questions, answers) = (child.stdin.take(), child.stdout.take());
        let mut python = Self {
            child,
            questions,
            answers: BufReader::new(answers.ok_or("no output")?),
            versions: String::new(),
        };
        let ready: Ready = serde_json::from_str(&python.line()?)?;
        python.versions = ready.versions;
        Ok(python)
    }

    fn line(&mut self) -> Result<String, Failure> {
        let mut line = String::new();
        if self.answers.read_line(&mut line)? == 0 {
            return Err("it ended".into());
        }
        Ok(line)
    }

    /// Asks for one measurement.
    pub(crate) fn ask(&mut self, command: &str) -> Result<(Duration, Vec<f64>), Failure> {
        let questions = self.questions.as_mut().ok_or("no input")?;
        writeln!(questions, "{command}")?;
        questions.flush()?;
        let line = self.line()?;
        let answer: Answer = serde_json::from_str(&line)
            .map_err(|error| format!("{SCRIPT} answers {command} with {line:?}: {error}"))?;
        Ok((Duration::try_from_secs_f64(answer.seconds)?, answer.figures))
    }
}

impl Drop for Python {
    fn drop(&mut self) {
        // Without more questions it ends.
        drop(self.questions.take());
        if let Err(error) = self.child.wait() {
            let name = self.child.id();
            let _written = writeln!(std::io::stderr(), "process {name}: {error}");
        }
    }
}
