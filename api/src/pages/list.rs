//! A plain list: its answer in the first line, then the rows; what is empty says what would be
//! here and how it gets here.

use super::frame::Frame;
use crate::request;
use askama::Template;
use uuid::Uuid;

/// A column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    /// Its head, with the unit where all its figures have one.
    pub head: &'static str,
    /// Whether it holds figures.
    pub figure: bool,
}

impl Column {
    /// A column of words.
    pub(crate) const fn words(head: &'static str) -> Self {
        Self {
            head,
            figure: false,
        }
    }

    /// A column of figures.
    pub(crate) const fn figures(head: &'static str) -> Self {
        Self { head, figure: true }
    }
}

/// A cell.
#[derive(Debug, Clone)]
pub(crate) enum Cell {
    /// Words or a figure.
    Text(String),
    /// Words that lead elsewhere.
    Lead(String, String),
    /// HTML that was made here, such as a time.
    Made(String),
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

/// A list as a page.
#[derive(Template)]
#[template(path = "list.html")]
pub(crate) struct ListPage {
    /// The frame.
    pub frame: Frame,
    /// What is listed, in a word or two.
    pub title: &'static str,
    /// The answer, in a sentence.
    pub answer: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, a cell for each column.
    pub rows: Vec<Vec<Cell>>,
    /// What would be here and how it gets here.
    pub empty: &'static str,
    /// Address of the page after this one.
    pub next: Option<String>,
}

impl ListPage {
    /// Rows with their columns, so that a figure's cell is set as one.
    fn cells<'a>(&'a self, row: &'a [Cell]) -> impl Iterator<Item = (&'a Column, &'a Cell)> {
        self.columns.iter().zip(row)
    }
}

/// Cuts what was read down to a page, and gives the address of the one after it.
pub(crate) fn older<T>(
    page: &request::Page,
    address: &str,
    rows: &mut Vec<T>,
    id: impl Fn(&T) -> Uuid,
) -> Option<String> {
    let size = usize::try_from(page.rows().saturating_sub(1)).unwrap_or(50);
    if rows.len() <= size {
        return None;
    }
    rows.truncate(size);
    rows.last()
        .map(|last| format!("{address}?limit={size}&after={}", id(last)))
}
