//! Pictures: what the calculator draws of anybody's numbers and pages of recorded ones.
//!
//! Promises SVG with a title and a description, from the figures of the domain alone, with the same
//! numbers as a table. Refuses more marks than a picture can show.

pub(crate) mod axis;
pub(crate) mod control_chart;
pub(crate) mod field;
pub(crate) mod picture;
pub(crate) mod sequence;

use domain::statistics::StatisticsError;

/// A picture and the numbers in it.
pub(crate) struct Plot {
    /// The picture.
    pub(crate) svg: String,
    /// What the table shows.
    pub(crate) caption: String,
    /// The heads of its columns.
    pub(crate) heads: Vec<&'static str>,
    /// Its rows.
    pub(crate) rows: Vec<Vec<String>>,
}

/// More marks than a picture has room for.
pub(crate) fn at_most(quantity: &str, given: usize, most: usize) -> Result<(), StatisticsError> {
    if given > most {
        return Err(StatisticsError::TooMany {
            quantity: quantity.to_owned(),
            most,
            given,
        });
    }
    Ok(())
}
