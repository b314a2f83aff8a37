//! The controlled vocabulary: what a good is, and what it is meant for.
//!
//! Promises two directed acyclic graphs whose every parent exists, so that a limit for cereal
//! grain meets a lot of maize grain and no lot known only as cereal. Refuses a cycle, an unknown
//! parent, an id given twice and an id that is no slug.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::faults::Faults;

const COMMODITIES_CSV: &str = include_str!("../data/commodities.csv");
const USES_CSV: &str = include_str!("../data/uses.csv");

/// One entry of a graph.
///
/// ```
/// use domain::commodities::Vocabulary;
/// let vocabulary = Vocabulary::shipped()?;
/// let dairy = vocabulary.uses.entry("feed-dairy-goats").ok_or("not there")?;
/// assert_eq!(dairy.parents, ["feed-goats", "feed-dairy", "feed-breeding-ruminants"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Entry {
    /// Lower-case slug.
    pub id: String,
    /// The entries right above; none for a root.
    pub parents: Vec<String>,
    /// The name for people.
    pub name: String,
    /// What the name does not say; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Why a table is no vocabulary.
#[derive(Debug, thiserror::Error)]
pub enum VocabularyError {
    /// The table cannot be read as CSV with the columns id, parents, name, note.
    #[error("the table cannot be read")]
    Unreadable(#[from] csv::Error),
    /// An id with other characters than a-z, 0-9 and hyphen.
    #[error("\"{0}\" is no id: lower-case letters, digits and hyphens only")]
    NotASlug(String),
    /// An id stands on two rows.
    #[error("\"{0}\" stands in the table twice")]
    Twice(String),
    /// A parent has no row of its own.
    #[error("\"{id}\" names the parent \"{parent}\", which has no row")]
    UnknownParent {
        /// The row.
        id: String,
        /// The parent that is missing.
        parent: String,
    },
    /// Following the parents comes back to where it began.
    #[error("\"{0}\" stands above itself")]
    Cycle(String),
}

/// A directed acyclic graph of entries, in the order of its table.
#[derive(Debug, Clone, Default)]
pub struct Graph {
    entries: Vec<Entry>,
    index: BTreeMap<String, usize>,
    /// For each id: itself and everything above it.
    above: BTreeMap<String, BTreeSet<String>>,
}

/// Row of commodities.csv or uses.csv; the first column's name differs between the two.
type Row = (String, String, String, String);

impl Graph {
    /// Reads a table with the columns id, parents (ids with spaces between), name and note.
    ///
    /// # Errors
    /// [`VocabularyError`], naming the row.
    ///
    /// ```
    /// use domain::commodities::{Graph, VocabularyError};
    /// let graph = Graph::parse("id,parents,name,note\ncereal,,cereals,\nmaize,cereal,maize,\n")?;
    /// assert!(graph.is_within("maize", "cereal"));
    /// let orphan = Graph::parse("id,parents,name,note\nmaize,cereal,maize,\n");
    /// assert!(matches!(orphan, Err(VocabularyError::UnknownParent { .. })));
    /// # Ok::<(), VocabularyError>(())
    /// ```
    pub fn parse(table: &str) -> Result<Self, VocabularyError> {
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let mut entries = Vec::new();
        for row in reader.deserialize::<Row>() {
            let (id, parents, name, note) = row?;
            let parents = parents.split_whitespace().map(str::to_owned).collect();
            entries.push(Entry {
                id,
                parents,
                name,
                note,
            });
        }
        Self::new(entries)
    }

    /// Builds a graph of entries.
    ///
    /// # Errors
    /// [`VocabularyError`], naming the entry.
    pub fn new(entries: Vec<Entry>) -> Result<Self, VocabularyError> {
        let mut index = BTreeMap::new();
        for (position, entry) in entries.iter().enumerate() {
            if !is_slug(&entry.id) {
                return Err(VocabularyError::NotASlug(
                    entry.id.chars().take(60).collect(),
                ));
            }
            if index.insert(entry.id.clone(), position).is_some() {
                return Err(VocabularyError::Twice(entry.id.clone()));
            }
        }
        for entry in &entries {
            if let Some(parent) = entry.parents.iter().find(|p| !index.contains_key(*p)) {
                return Err(VocabularyError::UnknownParent {
                    id: entry.id.clone(),
                    parent: parent.clone(),
                });
            }
        }
        let above = ancestors(&entries)?;
        Ok(Self {
            entries,
            index,
            above,
        })
    }

    /// The entries, in the order of their table.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The entry of an id, where there is one.
    #[must_use]
    pub fn entry(&self, id: &str) -> Option<&Entry> {
        self.index
            .get(id)
            .and_then(|position| self.entries.get(*position))
    }

    /// Whether `id` is `ancestor` or stands anywhere below it; false for ids that are unknown.
    ///
    /// ```
    /// use domain::commodities::Vocabulary;
    /// let goods = Vocabulary::shipped()?.commodities;
    /// assert!(goods.is_within("maize-grain", "cereal-grain"));
    /// assert!(goods.is_within("cereal", "cereal"));
    /// assert!(!goods.is_within("cereal", "cereal-grain"), "a parent is not its child");
    /// # Ok::<(), domain::commodities::VocabularyError>(())
    /// ```
    #[must_use]
    pub fn is_within(&self, id: &str, ancestor: &str) -> bool {
        self.above
            .get(id)
            .is_some_and(|above| above.contains(ancestor))
    }

    /// Which of `ancestors` the entry is, or stands below: the first one that fits.
    #[must_use]
    pub fn first_above<'a>(&self, id: &str, ancestors: &'a [String]) -> Option<&'a str> {
        ancestors
            .iter()
            .map(String::as_str)
            .find(|ancestor| self.is_within(id, ancestor))
    }
}

/// Lower-case letters, digits and inner hyphens.
pub(crate) fn is_slug(text: &str) -> bool {
    !text.is_empty()
        && !text.starts_with('-')
        && !text.ends_with('-')
        && text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// Each id with everything above it, parents first; what never gets ready stands in a cycle.
fn ancestors(entries: &[Entry]) -> Result<BTreeMap<String, BTreeSet<String>>, VocabularyError> {
    let mut done: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut waiting: Vec<&Entry> = entries.iter().collect();
    while let Some(first) = waiting.first() {
        let (stuck_id, before) = (first.id.clone(), waiting.len());
        waiting.retain(|entry| {
            let mut above = BTreeSet::from([entry.id.clone()]);
            for parent in &entry.parents {
                match done.get(parent) {
                    Some(higher) => above.extend(higher.iter().cloned()),
                    None => return true,
                }
            }
            done.insert(entry.id.clone(), above);
            false
        });
        if waiting.len() == before {
            return Err(VocabularyError::Cycle(stuck_id));
        }
    }
    Ok(done)
}

/// Commodities and uses together.
#[derive(Debug, Clone, Default)]
pub struct Vocabulary {
    /// What a good is: plant, form, state of processing.
    pub commodities: Graph,
    /// What it is meant for.
    pub uses: Graph,
}

impl Vocabulary {
    /// The vocabulary that comes with this crate (`domain/data/`).
    ///
    /// # Errors
    /// [`VocabularyError`]; a test shows that the shipped tables give none.
    ///
    /// ```
    /// let vocabulary = domain::commodities::Vocabulary::shipped()?;
    /// assert!(vocabulary.commodities.entry("groundnut").is_some());
    /// assert!(vocabulary.commodities.entry("peanut").is_none(), "one word for one thing");
    /// # Ok::<(), domain::commodities::VocabularyError>(())
    /// ```
    pub fn shipped() -> Result<Self, VocabularyError> {
        Ok(Self {
            commodities: Graph::parse(COMMODITIES_CSV)?,
            uses: Graph::parse(USES_CSV)?,
        })
    }
}

/// The shipped vocabulary, read once.
static SHIPPED: LazyLock<Option<Vocabulary>> = LazyLock::new(|| Vocabulary::shipped().ok());

/// The shipped vocabulary; none where it cannot be read.
pub(crate) fn shipped() -> Option<&'static Vocabulary> {
    SHIPPED.as_ref()
}

/// Notes a fault unless `id` is a commodity of the shipped vocabulary; none twice on one pointer.
///
/// ```
/// use domain::{commodities::require_commodity, faults::Faults};
/// let mut faults = Faults::default();
/// require_commodity(&mut faults, "/commodity", "maize-grain");
/// assert!(faults.0.is_empty());
/// require_commodity(&mut faults, "/commodity", "corn");
/// assert_eq!(faults.0[0].pointer, "/commodity");
/// ```
pub fn require_commodity(faults: &mut Faults, pointer: &str, id: &str) {
    let known = SHIPPED
        .as_ref()
        .is_some_and(|vocabulary| vocabulary.commodities.entry(id).is_some());
    if !known && !faults.0.iter().any(|fault| fault.pointer == pointer) {
        let shown: String = id.chars().take(60).collect();
        faults.add(
            pointer,
            format!("\"{shown}\" is no commodity of the vocabulary: take one of its ids"),
        );
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn the_shipped_tables_are_graphs() {
        let vocabulary = Vocabulary::shipped().unwrap();
        assert_eq!(vocabulary.commodities.entries().len(), 255);
        assert_eq!(vocabulary.uses.entries().len(), 76);
    }

    #[test]
    fn a_cycle_is_refused() {
        let table = "id,parents,name,note\na,b,a,\nb,a,b,\n";
        assert!(matches!(
            Graph::parse(table),
            Err(VocabularyError::Cycle(_))
        ));
        let itself = "id,parents,name,note\na,a,a,\n";
        assert!(matches!(
            Graph::parse(itself),
            Err(VocabularyError::Cycle(_))
        ));
    }

    #[test]
    fn a_child_may_stand_before_its_parent() {
        let graph = Graph::parse("id,parents,name,note\nc,b,c,\nb,a,b,\na,,a,\n").unwrap();
        assert!(graph.is_within("c", "a"));
    }

    #[test]
    fn an_id_twice_or_no_slug_is_refused() {
        let twice = "id,parents,name,note\na,,a,\na,,a,\n";
        assert!(matches!(
            Graph::parse(twice),
            Err(VocabularyError::Twice(_))
        ));
        let shouting = "id,parents,name,note\nMaize,,a,\n";
        assert!(matches!(
            Graph::parse(shouting),
            Err(VocabularyError::NotASlug(_))
        ));
        let short = "id,parents,name,note\na,,a\n";
        assert!(matches!(
            Graph::parse(short),
            Err(VocabularyError::Unreadable(_))
        ));
    }
}
