//! What the numbers cost, beside the libraries that others compute them with.
//!
//! Promises, in one run and both sides in turn, a thousand logistic fits and SciPy's, Passing and
//! Bablok's line and NumPy's, a million draws of a dilution and NumPy's, each as the median of all
//! rounds with its spread; and the instructions that one result takes, counted by callgrind.
//! Refuses to print where the two sides do not find the same. What is not on the machine, Python
//! with NumPy and SciPy or valgrind, is said, and the rest is measured.
//!
//! `ASSIZE_BENCH_PYTHON` names the Python, else `python3`; `ASSIZE_BENCH_ROUNDS` more rounds than
//! seven. `--one-result RULES COUNT` computes one result so many times and nothing else.
#![expect(
    clippy::disallowed_types,
    reason = "times, draws and what NumPy answers are floats"
)]

mod drawing;
mod fits;
mod instructions;
mod propagation;
mod python;
mod rounds;
mod scene;

use std::{
    env,
    io::{Write as _, stdout},
    num::NonZero,
    thread,
};

type Failure = Box<dyn std::error::Error>;

const LEAST_ROUNDS: usize = 7;

fn main() -> Result<(), Failure> {
    let given: Vec<String> = env::args().skip(1).filter(|one| one != "--bench").collect();
    let words: Vec<&str> = given.iter().map(String::as_str).collect();
    match words.as_slice() {
        [] => everything(),
        [instructions::MODE, rules, count] => {
            let scene = scene::Scene::new()?;
            scene.compute_often(rules.parse()?, count.parse()?)
        }
        other => Err(format!("{other:?}: no such measurement").into()),
    }
}

fn everything() -> Result<(), Failure> {
    let rounds = match env::var("ASSIZE_BENCH_ROUNDS") {
        Ok(text) => text.parse::<usize>()?.max(LEAST_ROUNDS),
        Err(_unset) => LEAST_ROUNDS,
    };
    let cores = thread::available_parallelism().map_or(1, NonZero::get);
    let mut tasks: Vec<Box<dyn rounds::Task>> = vec![
        Box::new(fits::Fits::new()?),
        Box::new(fits::Slopes::new()?),
        Box::new(propagation::Propagation::new()?),
    ];
    let (mut python, beside) = match python::Python::start() {
        Ok(python) => {
            let versions = python.versions.clone();
            (Some(python), versions)
        }
        Err(why) => (None, format!("not compared with NumPy and SciPy: {why}")),
    };
    let mut out = stdout();
    writeln!(
        out,
        "numbers, {cores} cores, one thread, {rounds} rounds in turn; {beside}"
    )?;
    for task in &mut tasks {
        let line = rounds::line(task.as_mut(), python.as_mut(), rounds)?;
        writeln!(out, "{line}")?;
    }
    drop(python);
    write!(out, "{}", instructions::lines()?)?;
    Ok(())
}
