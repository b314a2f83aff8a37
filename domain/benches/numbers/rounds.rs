//! Both sides in turn, round by round, and what came of them as one line.
//!
//! Promises that a side which begins one round begins not the next, and that the figures of both
//! are compared in every round; refuses a line where they differ.

use std::time::Duration;

use super::{Failure, python::Python};

/// Something that is measured on both sides.
pub(crate) trait Task {
    /// What is measured, and by which means on the other side.
    fn name(&self) -> &'static str;
    /// The word by which the other side knows it.
    fn command(&self) -> &'static str;
    /// How many times as fast as the other side it is meant to be.
    fn aim(&self) -> u32;
    /// Does it once: the time, and the figures that came of it.
    fn once(&mut self) -> Result<(Duration, Vec<f64>), Failure>;
    /// Says where the figures of both sides are further apart than they may be.
    fn differing(&self, ours: &[f64], theirs: &[f64]) -> Option<String>;
}

/// Measures a task on both sides, where there is another.
pub(crate) fn line(
    task: &mut dyn Task,
    mut python: Option<&mut Python>,
    rounds: usize,
) -> Result<String, Failure> {
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    let command = task.command();
    let asked = |python: &mut Option<&mut Python>| match python {
        Some(python) => python.ask(command).map(Some),
        None => Ok(None),
    };
    for round in 0..rounds {
        let first = round % 2 == 1;
        let before = if first { asked(&mut python)? } else { None };
        let (time, figures) = task.once()?;
        let answer = if first { before } else { asked(&mut python)? };
        ours.push(time);
        let Some((time, other)) = answer else {
            continue;
        };
        theirs.push(time);
        if let Some(why) = task.differing(&figures, &other) {
            return Err(format!("{}: {why}", task.name()).into());
        }
    }
    let (ours, theirs) = (Spread::of(ours), Spread::of(theirs));
    let beside = match (ours, theirs) {
        (Some(ours), Some(theirs)) => format!(
            "  {}  {:>6.1} ×, due {}",
            theirs.words(),
            theirs.middle / ours.middle,
            task.aim()
        ),
        _ => String::new(),
    };
    let ours = ours.map_or_else(String::new, |one| one.words());
    Ok(format!("  {:<52}{ours}{beside}", task.name()))
}

/// Times of all rounds in ms.
#[derive(Clone, Copy)]
struct Spread {
    least: f64,
    middle: f64,
    most: f64,
}

impl Spread {
    fn of(mut times: Vec<Duration>) -> Option<Self> {
        times.sort_unstable();
        let in_ms = |time: &Duration| time.as_secs_f64() * 1000.0;
        Some(Self {
            least: times.first().map(in_ms)?,
            middle: times.get(times.len() / 2).map(in_ms)?,
            most: times.last().map(in_ms)?,
        })
    }

    fn words(self) -> String {
        let spread = format!("({:.1} to {:.1})", self.least, self.most);
        format!("{:>7.1} ms {spread:<18}", self.middle)
    }
}
