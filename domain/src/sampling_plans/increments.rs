//! The number of increments, as a table of plans writes it.

use rust_decimal::Decimal;

use crate::quantity::exact::{Answer, plus, pole, square_root, times};

/// How many increments, by the words of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Increments {
    /// So many.
    Number(u32),
    /// 100 + √t, t the mass in tonnes, rounded up.
    HundredAndRoot,
    /// 2.5 times 7, rounded up: feed up to 2.5 t.
    FeedLeast,
    /// 2.5 times ⌈√(20 t)⌉, which is at most 40, rounded up: feed.
    FeedRoot,
    /// From the first to the second.
    Between {
        /// The fewest.
        least: u32,
        /// The most.
        most: u32,
    },
    /// From the first to the second, by the mass of the lot.
    ByLotMass {
        /// The fewest.
        least: u32,
        /// The most.
        most: u32,
    },
    /// As many as the plan for cereals asks for.
    AsForCereals,
    /// No number.
    Words(String),
    /// Nothing is said.
    Unstated,
}

impl Increments {
    /// Reads the words of a table; what is no number and no known expression stays words.
    ///
    /// ```
    /// use domain::sampling_plans::Increments;
    /// assert_eq!(Increments::read("100+sqrt(t)"), Increments::HundredAndRoot);
    /// assert_eq!(Increments::read("several"), Increments::Words("several".into()));
    /// ```
    #[must_use]
    pub fn read(words: &str) -> Self {
        if let Ok(number) = words.parse() {
            return Self::Number(number);
        }
        match words {
            "" => Self::Unstated,
            "100+sqrt(t)" => Self::HundredAndRoot,
            "ceil(2.5*7)" => Self::FeedLeast,
            "ceil(2.5*ceil(sqrt(20*t)))" => Self::FeedRoot,
            "by lot mass as for cereals" => Self::AsForCereals,
            other => Self::range(other).unwrap_or_else(|| Self::Words(other.to_owned())),
        }
    }

    fn range(words: &str) -> Option<Self> {
        let (numbers, by_mass) = match words.strip_suffix(" by lot mass") {
            Some(numbers) => (numbers, true),
            None => (words, false),
        };
        let (least, most) = numbers.split_once(" to ")?;
        let (least, most) = (least.parse().ok()?, most.parse().ok()?);
        Some(if by_mass {
            Self::ByLotMass { least, most }
        } else {
            Self::Between { least, most }
        })
    }

    /// The fewest and the most, where a range is stated.
    pub(super) const fn range_of_numbers(&self) -> Option<(u32, u32)> {
        match self {
            Self::Between { least, most } | Self::ByLotMass { least, most } => {
                Some((*least, *most))
            }
            Self::Number(_)
            | Self::HundredAndRoot
            | Self::FeedLeast
            | Self::FeedRoot
            | Self::AsForCereals
            | Self::Words(_)
            | Self::Unstated => None,
        }
    }

    /// What is said where that is no number.
    pub(super) fn words(&self) -> Option<String> {
        match self {
            Self::Words(words) => Some(words.clone()),
            Self::AsForCereals => Some("by lot mass as for cereals".to_owned()),
            Self::Number(_)
            | Self::HundredAndRoot
            | Self::FeedLeast
            | Self::FeedRoot
            | Self::Between { .. }
            | Self::ByLotMass { .. }
            | Self::Unstated => None,
        }
    }

    /// The number for a mass in tonnes, where it is one; rounded up, for it is the fewest.
    pub(super) fn count(&self, mass_t: Decimal) -> Answer<Option<u32>> {
        let name = "increments";
        let feed = |whole: Decimal| Ok(times(name, Decimal::new(25, 1), whole)?.ceil());
        let count = match self {
            Self::Number(number) => return Ok(Some(*number)),
            Self::HundredAndRoot => {
                plus(name, Decimal::ONE_HUNDRED, square_root(name, mass_t)?)?.ceil()
            }
            Self::FeedLeast => feed(Decimal::from(7))?,
            Self::FeedRoot => {
                let root = square_root(name, times(name, Decimal::from(20), mass_t)?)?;
                feed(root.ceil().min(Decimal::from(40)))?
            }
            Self::Between { .. }
            | Self::ByLotMass { .. }
            | Self::AsForCereals
            | Self::Words(_)
            | Self::Unstated => return Ok(None),
        };
        u32::try_from(count)
            .map(Some)
            .map_err(|error| pole(name, error.to_string()))
    }
}
