//! Which file of examples is computed by what, and what comes of it.
//!
//! Promises that an example which nothing computes is a problem, as is one that disagrees.

use super::case::{Answers, Case, Failure};
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
    topic(
        "01_dilution_uncertainty",
        super::dilution_uncertainty::compute,
    ),
    topic("02_decision_rules", super::decision_rules::compute),
    topic("03_precision", super::precision::compute),
    topic("04_proficiency", super::proficiency::compute),
    topic("05_control_charts", super::control::compute),
    topic("06_detection_limits", super::detection::compute),
    topic("07_left_censored", super::censored::compute),
    topic("08_four_parameter_logistic", super::logistic::compute),
    topic("09_linear_calibration", super::calibration::compute),
    topic("10_screening_statistics", super::screening::compute),
    topic("11_rounding", super::rounding::compute),
    topic(
        "12_recovery_combination",
        super::recovery_combination::compute,
    ),
];

const fn topic(file: &'static str, compute: fn(&Case) -> Result<Answers, Failure>) -> Topic {
    Topic { file, compute }
}

fn folders() -> Vec<PathBuf> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/worked_examples");
    let further = std::env::var_os("ASSIZE_WORKED_EXAMPLES").map(PathBuf::from);
    [own].into_iter().chain(further).collect()
}

fn files(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let listing = std::fs::read_dir(folder)
        .map_err(|error| format!("{} cannot be read: {error}", folder.display()))?;
    let mut paths: Vec<PathBuf> = listing.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    paths.sort();
    Ok(paths)
}

fn stem(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or_default();
    stem.to_string_lossy().into_owned()
}

/// How many examples there are, were computed, and agreed.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Count {
    pub(crate) found: usize,
    pub(crate) ran: usize,
    pub(crate) agreed: usize,
}

/// What came of the examples.
#[derive(Debug, Default)]
pub(crate) struct Reproduced {
    /// By topic, in the order of the files.
    pub(crate) topics: Vec<(String, Count)>,
    /// What is not as it should be.
    pub(crate) problems: Vec<String>,
}

impl Reproduced {
    /// All topics together.
    pub(crate) fn all(&self) -> Count {
        let mut all = Count::default();
        for (_, one) in &self.topics {
            all.found += one.found;
            all.ran += one.ran;
            all.agreed += one.agreed;
        }
        all
    }

    /// A line a topic, and one for all.
    pub(crate) fn lines(&self) -> Vec<String> {
        let all = ("all topics".to_owned(), self.all());
        let line = |(name, count): &(String, Count)| {
            let Count { found, ran, agreed } = count;
            format!("{name}: {found} examples, {ran} ran, {agreed} agreed")
        };
        self.topics.iter().chain([&all]).map(line).collect()
    }
}

/// Computes every example of the files.
pub(crate) fn reproduce() -> Result<Reproduced, String> {
    let mut reproduced = Reproduced::default();
    for folder in folders() {
        for path in files(&folder)? {
            let name = stem(&path);
            let cases =
                Case::all_of(&path).map_err(|problem| format!("{}: {problem}", path.display()))?;
            let count = reproduce_file(&name, &cases, &mut reproduced.problems);
            reproduced.topics.push((name, count));
        }
    }
    Ok(reproduced)
}

fn reproduce_file(name: &str, cases: &[Case], problems: &mut Vec<String>) -> Count {
    let mut count = Count {
        found: cases.len(),
        ..Count::default()
    };
    let Some(topic) = TOPICS.iter().find(|topic| topic.file == name) else {
        problems.push(format!("{name}: no topic computes this file"));
        return count;
    };
    for case in cases {
        match (topic.compute)(case) {
            Err(Failure::Unknown) => {
                problems.push(format!("{name}: {}: nothing computes it", case.id));
            }
            Err(Failure::Because(why)) => {
                count.ran += 1;
                problems.push(format!("{name}: {}: {why}", case.id));
            }
            Ok(answers) => {
                count.ran += 1;
                let wrong = case.disagreements(&answers);
                count.agreed += usize::from(wrong.is_empty());
                let named = |what| format!("{name}: {}: {what}", case.id);
                problems.extend(wrong.into_iter().map(named));
            }
        }
    }
    count
}

#[test]
fn each_file_has_one_topic() -> Result<(), String> {
    for path in folders().first().map_or(Ok(vec![]), |own| files(own))? {
        let name = stem(&path);
        let computed = TOPICS.iter().filter(|topic| topic.file == name).count();
        assert_eq!(computed, 1, "{name}");
    }
    Ok(())
}
