//! Which part of a vocabulary is asked for.

use crate::error::{Answer, ApiError};
use domain::commodities::{Entry, Graph};

/// Which entries are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct EntryFilter {
    /// Only this entry and what stands below it.
    pub(super) within: Option<String>,
}

/// The entries of a graph that are asked for, in the order of the table.
///
/// # Errors
/// [`ApiError::Malformed`] where `within` is no entry.
pub(super) fn entries(graph: &Graph, filter: &EntryFilter) -> Answer<Vec<Entry>> {
    let Some(within) = &filter.within else {
        return Ok(graph.entries().to_vec());
    };
    if graph.entry(within).is_none() {
        return Err(ApiError::Malformed(format!(
            "\"{within}\" is not in the vocabulary. Leave `within` out to see all of it."
        )));
    }
    Ok(graph
        .entries()
        .iter()
        .filter(|entry| graph.is_within(&entry.id, within))
        .cloned()
        .collect())
}
