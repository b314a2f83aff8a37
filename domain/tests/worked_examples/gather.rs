//! Answers of an example: those of what was computed that it expects.

use super::case::{Answers, Case, Failure, Value};
use domain::quantity::Number;
use rust_decimal::Decimal;

/// Collects what an example expects out of all that is computed for it.
pub(crate) struct Gather<'a> {
    case: &'a Case,
    answers: Answers,
}

impl<'a> Gather<'a> {
    pub(crate) fn of(case: &'a Case) -> Self {
        Self {
            case,
            answers: Answers::default(),
        }
    }

    /// One value under a name, where it is expected.
    pub(crate) fn put(mut self, name: &str, value: impl Into<Value>) -> Self {
        if self.case.expected.contains_key(name) {
            self.answers = self.answers.put(name, value);
        }
        self
    }

    /// One value, where there is one.
    pub(crate) fn put_some(self, name: &str, value: Option<impl Into<Value>>) -> Self {
        match value {
            Some(value) => self.put(name, value),
            None => self,
        }
    }

    /// A list under a name, or its only member where the example expects no list.
    pub(crate) fn put_each(self, name: &str, values: Vec<Number>) -> Self {
        match (self.case.expected.get(name), values.as_slice()) {
            (Some(Value::Number(_)), [one]) => self.put(name, *one),
            _ => self.put(name, values),
        }
    }

    pub(crate) fn done(self) -> Answers {
        self.answers
    }
}

impl Case {
    pub(crate) fn has(&self, name: &str) -> bool {
        self.inputs.contains_key(name)
    }

    pub(crate) fn expects(&self, name: &str) -> bool {
        self.expected.contains_key(name)
    }

    /// A number of the inputs as the domain takes it.
    pub(crate) fn one(&self, name: &str) -> Result<Number, Failure> {
        self.number(name).map(Number)
    }

    /// A number of the inputs, where there is one.
    pub(crate) fn maybe(&self, name: &str) -> Result<Option<Number>, Failure> {
        self.has(name).then(|| self.one(name)).transpose()
    }

    /// A list of numbers of the inputs, or its only member.
    pub(crate) fn many(&self, name: &str) -> Result<Vec<Number>, Failure> {
        match self.inputs.get(name) {
            Some(Value::Number(one)) => Ok(vec![Number(*one)]),
            _ => Ok(self.numbers(name)?.into_iter().map(Number).collect()),
        }
    }

    /// A whole number of the inputs.
    pub(crate) fn whole(&self, name: &str) -> Result<usize, Failure> {
        Ok(usize::try_from(self.count(name)?)?)
    }

    /// A list of whole numbers of the inputs, or its only member.
    pub(crate) fn wholes(&self, name: &str) -> Result<Vec<usize>, Failure> {
        let each = |number: Number| Ok(usize::try_from(number.0)?);
        self.many(name)?.into_iter().map(each).collect()
    }

    /// A list of truth values of the inputs.
    pub(crate) fn flags(&self, name: &str) -> Result<Vec<bool>, Failure> {
        let wrong = || Failure::Because(format!("{name} is no list of truth values"));
        let Some(Value::List(list)) = self.inputs.get(name) else {
            return Err(wrong());
        };
        let each = |value: &Value| {
            let Value::Flag(flag) = value else {
                return Err(wrong());
            };
            Ok(*flag)
        };
        list.iter().map(each).collect()
    }

    /// The lists of lists of numbers of the inputs, in order of their names.
    pub(crate) fn tables(&self) -> Result<Vec<Vec<Vec<Number>>>, Failure> {
        let nested = |value: &Value| {
            matches!(value, Value::List(rows)
            if rows.iter().all(|row| matches!(row, Value::List(_))))
        };
        let names = self.inputs.iter().filter(|(_, value)| nested(value));
        names
            .map(|(name, _)| {
                let rows = self.rows(name)?;
                Ok(rows
                    .into_iter()
                    .map(|row| row.into_iter().map(Number).collect())
                    .collect())
            })
            .collect()
    }
}

/// A number times a whole number.
pub(crate) fn times(number: Number, factor: i64) -> Number {
    Number(number.0 * Decimal::from(factor))
}

/// The digits that end a name, as a probability: `F_crit_975` is 0.975.
pub(crate) fn share_in(name: &str) -> Option<Number> {
    let digits = name.rsplit('_').next()?;
    let places = u32::try_from(digits.len()).ok()?;
    Some(Number(Decimal::new(digits.parse().ok()?, places)))
}
