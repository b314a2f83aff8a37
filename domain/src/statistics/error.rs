//! Why a computation has no answer, each refusal naming the quantity.

/// Why a computation has no answer.
///
/// ```
/// use domain::statistics::StatisticsError;
/// let refusal = StatisticsError::TooFew { quantity: "values".into(), needed: 2, given: 1 };
/// assert_eq!(refusal.to_string(), "values: 2 are needed, 1 is there");
/// assert_eq!(refusal.quantity(), "values");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StatisticsError {
    /// Fewer values than the computation needs.
    #[error("{quantity}: {needed} are needed, {given} {} there", if *given == 1 { "is" } else { "are" })]
    TooFew {
        /// Of what.
        quantity: String,
        /// The fewest that can be computed with.
        needed: usize,
        /// How many there are.
        given: usize,
    },
    /// More values than are computed with at once.
    #[error("{quantity}: {most} are the most that are taken at once, {given} are there")]
    TooMany {
        /// Of what.
        quantity: String,
        /// The most.
        most: usize,
        /// How many there are.
        given: usize,
    },
    /// Two lists that belong together are not equally long.
    #[error("{quantity}: {given} values beside {expected}; there must be as many of both")]
    UnequalLengths {
        /// The list of the wrong length.
        quantity: String,
        /// How long its partner is.
        expected: usize,
        /// How long it is.
        given: usize,
    },
    /// An argument outside what the computation is defined for.
    #[error("{quantity} is {value}: it must be {must}")]
    OutOfRange {
        /// Which argument.
        quantity: String,
        /// What was given.
        value: String,
        /// What it must be.
        must: String,
    },
    /// All values are equal, so that nothing can be compared with their scatter.
    #[error("{quantity}: the values do not scatter, and what is asked for needs their scatter")]
    ZeroVariance {
        /// Of what.
        quantity: String,
    },
    /// The answer runs to infinity for these inputs.
    #[error("{quantity} has no finite value: {why}")]
    Pole {
        /// What has no value.
        quantity: String,
        /// For which reason.
        why: String,
    },
    /// Responses that rise and fall where a curve can only do one of them.
    #[error("{quantity} is not monotone: {why}")]
    NotMonotone {
        /// Which responses.
        quantity: String,
        /// Where they turn.
        why: String,
    },
    /// An iteration that did not settle.
    #[error("{quantity}: the iteration does not settle ({why})")]
    NoConvergence {
        /// What was looked for.
        quantity: String,
        /// What stood in the way.
        why: String,
    },
    /// The figure leaves the range that a decimal can hold.
    #[error("{quantity} leaves the range that can be kept exactly")]
    TooLarge {
        /// Which figure.
        quantity: String,
    },
}

impl StatisticsError {
    /// The quantity that the refusal is about.
    ///
    /// ```
    /// use domain::statistics::StatisticsError;
    /// let flat = StatisticsError::ZeroVariance { quantity: "x".into() };
    /// assert_eq!(flat.quantity(), "x");
    /// ```
    #[must_use]
    pub fn quantity(&self) -> &str {
        match self {
            Self::TooFew { quantity, .. }
            | Self::TooMany { quantity, .. }
            | Self::UnequalLengths { quantity, .. }
            | Self::OutOfRange { quantity, .. }
            | Self::ZeroVariance { quantity }
            | Self::Pole { quantity, .. }
            | Self::NotMonotone { quantity, .. }
            | Self::NoConvergence { quantity, .. }
            | Self::TooLarge { quantity } => quantity,
        }
    }

    pub(super) fn too_few(quantity: impl Into<String>, needed: usize, given: usize) -> Self {
        let quantity = quantity.into();
        Self::TooFew {
            quantity,
            needed,
            given,
        }
    }

    pub(super) fn out_of_range(
        quantity: impl Into<String>,
        value: impl ToString,
        must: impl Into<String>,
    ) -> Self {
        Self::OutOfRange {
            quantity: quantity.into(),
            value: value.to_string(),
            must: must.into(),
        }
    }

    pub(super) fn flat(quantity: impl Into<String>) -> Self {
        Self::ZeroVariance {
            quantity: quantity.into(),
        }
    }

    pub(super) fn pole(quantity: impl Into<String>, why: impl Into<String>) -> Self {
        Self::Pole {
            quantity: quantity.into(),
            why: why.into(),
        }
    }

    pub(super) fn unsettled(quantity: impl Into<String>, why: impl Into<String>) -> Self {
        Self::NoConvergence {
            quantity: quantity.into(),
            why: why.into(),
        }
    }
}

/// What this module's computations return.
pub(super) type Answer<T> = Result<T, StatisticsError>;

/// Refuses fewer than `needed`.
pub(super) fn at_least(quantity: &str, given: usize, needed: usize) -> Answer<()> {
    if given < needed {
        return Err(StatisticsError::too_few(quantity, needed, given));
    }
    Ok(())
}

/// Refuses lists that belong together and are not equally long.
pub(super) fn as_long(quantity: &str, given: usize, expected: usize) -> Answer<()> {
    if given != expected {
        return Err(StatisticsError::UnequalLengths {
            quantity: quantity.to_owned(),
            expected,
            given,
        });
    }
    Ok(())
}

/// Refuses more than `most`.
pub(super) fn at_most(quantity: &str, given: usize, most: usize) -> Answer<()> {
    if given > most {
        return Err(StatisticsError::TooMany {
            quantity: quantity.to_owned(),
            most,
            given,
        });
    }
    Ok(())
}
