//! One worked example: what goes in, what should come out, and within which tolerance.
//!
//! Promises numbers as exact decimals, read from the digits of the file; refuses what is no
//! number, text, truth value, list or table.

use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::path::Path;

/// A value of an example, or one that was computed for it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Number(Decimal),
    Text(String),
    Flag(bool),
    List(Vec<Value>),
    Table(Table),
}

pub(crate) type Table = BTreeMap<String, Value>;

/// Why an example gave no answers.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The topic has no computation for it.
    Unknown,
    /// What went wrong.
    Because(String),
}

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::Because(error.to_string())
    }
}

/// What was computed, under the names of `expected`.
#[derive(Debug, Default)]
pub(crate) struct Answers {
    values: Table,
    bounded: Table,
}

impl Answers {
    /// Compared with the expected value of this name.
    pub(crate) fn put(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.values.insert(name.to_owned(), value.into());
        self
    }

    /// Must not lie above the expected value of this name, which is a published bound.
    pub(crate) fn put_bounded(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.bounded.insert(name.to_owned(), value.into());
        self
    }
}

impl From<Decimal> for Value {
    fn from(value: Decimal) -> Self {
        Self::Number(value)
    }
}

impl From<domain::quantity::Number> for Value {
    fn from(value: domain::quantity::Number) -> Self {
        Self::Number(value.0)
    }
}

impl From<u32> for Value {
    fn from(value: u32) -> Self {
        Self::Number(value.into())
    }
}

impl From<usize> for Value {
    fn from(value: usize) -> Self {
        Self::Number(value.into())
    }
}

impl From<bool> for Value {
    fn from(value: bool) -> Self {
        Self::Flag(value)
    }
}

impl From<&str> for Value {
    fn from(value: &str) -> Self {
        Self::Text(value.to_owned())
    }
}

impl From<String> for Value {
    fn from(value: String) -> Self {
        Self::Text(value)
    }
}

impl<T: Into<Value>> From<Vec<T>> for Value {
    fn from(values: Vec<T>) -> Self {
        Self::List(values.into_iter().map(Into::into).collect())
    }
}

/// How far a number may lie from the expected one.
#[derive(Debug, Clone, Copy)]
enum Tolerance {
    Absolute(Decimal),
    Relative(Decimal),
}

impl Tolerance {
    fn of(table: &Table) -> Option<Self> {
        match (table.get("abs"), table.get("rel")) {
            (Some(Value::Number(most)), None) => Some(Self::Absolute(*most)),
            (None, Some(Value::Number(most))) => Some(Self::Relative(*most)),
            _ => None,
        }
    }

    fn most(self, expected: Decimal) -> Decimal {
        match self {
            Self::Absolute(most) => most,
            Self::Relative(most) => most * expected.abs(),
        }
    }
}

/// One worked example.
#[derive(Debug)]
pub(crate) struct Case {
    pub(crate) id: String,
    pub(crate) inputs: Table,
    pub(crate) expected: Table,
    tolerance: Tolerance,
    tolerances: BTreeMap<String, Tolerance>,
}

impl Case {
    /// Every example of a file.
    pub(crate) fn all_of(path: &Path) -> Result<Vec<Self>, String> {
        let text = std::fs::read_to_string(path).map_err(|error| error.to_string())?;
        let document: toml_edit::DocumentMut = text
            .parse()
            .map_err(|error: toml_edit::TomlError| error.to_string())?;
        let examples = document
            .get("example")
            .and_then(toml_edit::Item::as_array_of_tables)
            .ok_or("no [[example]]")?;
        examples.iter().map(Self::read).collect()
    }

    fn read(example: &toml_edit::Table) -> Result<Self, String> {
        let id = example
            .get("id")
            .and_then(toml_edit::Item::as_str)
            .ok_or("an example without an id")?;
        let part = |name: &str| match example.get(name).map(item) {
            Some(Ok(Value::Table(table))) => Ok(table),
            Some(Err(problem)) => Err(format!("{id}: {name}: {problem}")),
            Some(Ok(_)) | None => Err(format!("{id}: no table {name}")),
        };
        let tolerance = part("tolerance")?;
        let mut tolerances = BTreeMap::new();
        if let Some(Value::Table(keys)) = tolerance.get("keys") {
            for (name, one) in keys {
                let Value::Table(one) = one else {
                    return Err(format!("{id}: the tolerance of {name} is no table"));
                };
                let one = Tolerance::of(one).ok_or_else(|| format!("{id}: tolerance of {name}"))?;
                tolerances.insert(name.clone(), one);
            }
        }
        Ok(Self {
            id: id.to_owned(),
            inputs: part("inputs")?,
            expected: part("expected")?,
            tolerance: Tolerance::of(&tolerance).ok_or_else(|| format!("{id}: no tolerance"))?,
            tolerances,
        })
    }

    /// Any value of the inputs.
    pub(crate) fn input(&self, name: &str) -> Result<&Value, Failure> {
        self.inputs
            .get(name)
            .ok_or_else(|| Failure::Because(format!("no input {name}")))
    }

    /// A number of the inputs.
    pub(crate) fn number(&self, name: &str) -> Result<Decimal, Failure> {
        number(name, self.input(name)?)
    }

    /// A whole number of the inputs.
    pub(crate) fn count(&self, name: &str) -> Result<u32, Failure> {
        Ok(u32::try_from(self.number(name)?)?)
    }

    /// A list of numbers of the inputs.
    pub(crate) fn numbers(&self, name: &str) -> Result<Vec<Decimal>, Failure> {
        list(name, self.input(name)?)?
            .iter()
            .map(|one| number(name, one))
            .collect()
    }

    /// A list of lists of numbers of the inputs.
    pub(crate) fn rows(&self, name: &str) -> Result<Vec<Vec<Decimal>>, Failure> {
        list(name, self.input(name)?)?
            .iter()
            .map(|row| {
                list(name, row)?
                    .iter()
                    .map(|one| number(name, one))
                    .collect()
            })
            .collect()
    }

    /// A text of the inputs.
    pub(crate) fn text(&self, name: &str) -> Result<&str, Failure> {
        text(name, self.input(name)?)
    }

    /// A list of texts of the inputs.
    pub(crate) fn texts(&self, name: &str) -> Result<Vec<&str>, Failure> {
        list(name, self.input(name)?)?
            .iter()
            .map(|one| text(name, one))
            .collect()
    }

    /// Each expected value that the answers do not give within its tolerance.
    pub(crate) fn disagreements(&self, answers: &Answers) -> Vec<String> {
        let mut wrong = Vec::new();
        for (name, expected) in &self.expected {
            let tolerance = *self.tolerances.get(name).unwrap_or(&self.tolerance);
            match (answers.values.get(name), answers.bounded.get(name)) {
                (Some(got), _) => compare(name, expected, got, tolerance, false, &mut wrong),
                (None, Some(got)) => compare(name, expected, got, tolerance, true, &mut wrong),
                (None, None) => wrong.push(format!("{name} was not computed")),
            }
        }
        for name in answers.values.keys().chain(answers.bounded.keys()) {
            if !self.expected.contains_key(name) {
                wrong.push(format!("{name} was computed, and nothing expects it"));
            }
        }
        wrong
    }
}

fn compare(
    name: &str,
    expected: &Value,
    got: &Value,
    tolerance: Tolerance,
    bounded: bool,
    wrong: &mut Vec<String>,
) {
    match (expected, got) {
        (Value::Number(expected), Value::Number(got)) => {
            let agrees = if bounded {
                got <= expected
            } else {
                (*got - *expected).abs() <= tolerance.most(*expected)
            };
            if !agrees {
                wrong.push(format!("{name} is {got}, expected {expected}"));
            }
        }
        (Value::List(expected), Value::List(got)) if expected.len() == got.len() => {
            for (place, (expected, got)) in expected.iter().zip(got).enumerate() {
                let name = format!("{name}[{place}]");
                compare(&name, expected, got, tolerance, bounded, wrong);
            }
        }
        (Value::Table(expected), Value::Table(got)) if expected.keys().eq(got.keys()) => {
            for ((key, expected), got) in expected.iter().zip(got.values()) {
                compare(
                    &format!("{name}.{key}"),
                    expected,
                    got,
                    tolerance,
                    bounded,
                    wrong,
                );
            }
        }
        (expected, got) if expected == got => {}
        (expected, got) => wrong.push(format!("{name} is {got:?}, expected {expected:?}")),
    }
}

/// What a computation takes, read from the JSON that a person would send.
pub(crate) fn given<T: serde::de::DeserializeOwned>(
    inputs: serde_json::Value,
) -> Result<T, Failure> {
    Ok(serde_json::from_value(inputs)?)
}

/// A number of the inputs as JSON writes it.
pub(crate) fn written(case: &Case, name: &str) -> Result<String, Failure> {
    Ok(case.number(name)?.to_string())
}

fn number(name: &str, value: &Value) -> Result<Decimal, Failure> {
    if let Value::Number(number) = value {
        return Ok(*number);
    }
    Err(Failure::Because(format!("{name} is no number: {value:?}")))
}

/// The members of a list.
pub(crate) fn list<'a>(name: &str, value: &'a Value) -> Result<&'a [Value], Failure> {
    if let Value::List(values) = value {
        return Ok(values);
    }
    Err(Failure::Because(format!("{name} is no list: {value:?}")))
}

/// A text.
pub(crate) fn text<'a>(name: &str, value: &'a Value) -> Result<&'a str, Failure> {
    if let Value::Text(text) = value {
        return Ok(text);
    }
    Err(Failure::Because(format!("{name} is no text: {value:?}")))
}

fn item(item: &toml_edit::Item) -> Result<Value, String> {
    if let Some(value) = item.as_value() {
        return from_toml(value);
    }
    let Some(table) = item.as_table() else {
        return Err("neither a value nor a table".to_owned());
    };
    let mut members = Table::new();
    for (name, member) in table {
        members.insert(name.to_owned(), self::item(member)?);
    }
    Ok(Value::Table(members))
}

fn from_toml(value: &toml_edit::Value) -> Result<Value, String> {
    use toml_edit::Value as Toml;
    Ok(match value {
        Toml::String(text) => Value::Text(text.value().clone()),
        Toml::Boolean(flag) => Value::Flag(*flag.value()),
        Toml::Integer(number) => Value::Number((*number.value()).into()),
        Toml::Float(number) => {
            let digits = number.as_repr().and_then(|repr| repr.as_raw().as_str());
            Value::Number(decimal(digits.ok_or("a number without digits")?)?)
        }
        Toml::Array(values) => Value::List(values.iter().map(from_toml).collect::<Result<_, _>>()?),
        Toml::InlineTable(table) => {
            let mut members = Table::new();
            for (name, member) in table {
                members.insert(name.to_owned(), from_toml(member)?);
            }
            Value::Table(members)
        }
        Toml::Datetime(_) => return Err("a time is no quantity".to_owned()),
    })
}

fn decimal(digits: &str) -> Result<Decimal, String> {
    let plain = digits.trim().replace('_', "");
    let read = if plain.contains(['e', 'E']) {
        Decimal::from_scientific(&plain)
    } else {
        plain.parse()
    };
    read.map_err(|error| format!("{digits}: {error}"))
}

#[test]
fn a_case_is_read_and_compared_within_its_tolerances() -> Result<(), Failure> {
    let text = r#"
        [[example]]
        id = "sum"
        [example.inputs]
        n = 3
        x = [1, 2.50, 1.5e-3]
        pairs = [[1, 2], [3, 4]]
        rule = "half-even"
        names = ["a", "b"]
        [example.expected]
        total = 2.5015
        most = 0.5
        agreed = true
        [example.tolerance]
        abs = 0.001
        keys.most = { rel = 0.01 }
        "#;
    let document: toml_edit::DocumentMut = text.parse()?;
    let examples = document
        .get("example")
        .and_then(toml_edit::Item::as_array_of_tables);
    let example = examples.and_then(|examples| examples.get(0));
    let example = example.ok_or_else(|| Failure::Because("no example".into()))?;
    let case = Case::read(example).map_err(Failure::Because)?;
    assert_eq!(case.count("n")?, 3);
    assert_eq!(case.number("n")?, Decimal::from(3));
    assert_eq!(
        case.numbers("x")?
            .iter()
            .map(Decimal::to_string)
            .collect::<Vec<_>>(),
        ["1", "2.50", "0.0015"]
    );
    assert_eq!(case.rows("pairs")?.len(), 2);
    assert_eq!(
        (case.text("rule")?, case.texts("names")?),
        ("half-even", vec!["a", "b"])
    );
    let answers = |total: &str, most: u32| {
        Answers::default()
            .put("total", decimal(total).unwrap_or_default())
            .put_bounded("most", most)
            .put("agreed", true)
    };
    assert_eq!(
        case.disagreements(&answers("2.502", 0)),
        Vec::<String>::new()
    );
    assert_eq!(case.disagreements(&answers("2.503", 1)).len(), 2);
    let short = case.disagreements(&Answers::default().put("other", vec![1u32]));
    assert_eq!(
        short.len(),
        4,
        "three were not computed, one was not expected: {short:?}"
    );
    Ok(())
}
