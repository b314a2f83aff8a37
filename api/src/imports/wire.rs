//! How imports, their rows and what they refused are shown.

use super::{recording::RowOutcome, refusing::Refused};
use crate::kept::Kept;
use domain::{
    holds::{Hold, HoldKind},
    id::RunId,
    imports::{Contradiction, ImportedExport, RefusedRow, RowFault, unescaped},
    time::Moment,
};
use serde::Serialize;
use uuid::Uuid;

/// An import, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ImportView {
    /// The import.
    pub id: Uuid,
    /// What is recorded of it.
    #[serde(flatten)]
    pub import: ImportedExport,
    /// Rows that it refused and nobody has mended; absent in lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unmended: Option<i64>,
    /// When it was imported.
    pub created_at: Moment,
}

impl From<Kept<ImportedExport>> for ImportView {
    fn from(kept: Kept<ImportedExport>) -> Self {
        Self {
            id: kept.id,
            import: kept.content,
            unmended: None,
            created_at: kept.created_at,
        }
    }
}

/// What an import did, or would do, row by row.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ImportOutcomeView {
    /// The import; absent in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// Whether nothing was kept.
    pub dry_run: bool,
    /// What is recorded of it.
    #[serde(flatten)]
    pub import: ImportedExport,
    /// Runs of this export with a hold on them.
    pub held_runs: i64,
    /// What became of the rows, in the order of their lines: all of up to 2000; of a larger export
    /// first those that were not plainly recorded.
    pub rows: Vec<ImportedRowView>,
    /// How many rows are not listed.
    pub rows_left_out: usize,
    /// The refused rows with their texts and reasons, up to 1000; all of them under the import's
    /// address.
    pub refused: Vec<RefusedRowView>,
}

/// What became of one row.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ImportedRowView {
    /// The line on which it begins, from 1.
    pub line: u64,
    /// What became of it.
    pub outcome: RowOutcome,
    /// The run that it tells; absent in a dry run, and where it was refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run: Option<Uuid>,
    /// What holds the run.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<RowHoldView>,
}

/// A hold on the run that a row tells.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RowHoldView {
    /// What is amiss.
    pub kind: HoldKind,
    /// What is amiss, in words and numbers.
    pub detail: String,
}

impl From<&Hold> for RowHoldView {
    fn from(hold: &Hold) -> Self {
        Self {
            kind: hold.kind,
            detail: hold.detail.clone(),
        }
    }
}

/// A refused row, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RefusedRowView {
    /// The line on which it begins, from 1.
    pub line: u64,
    /// `refused`, or `mended`.
    #[schema(example = "refused")]
    pub state: String,
    /// Its text as uploaded.
    pub text: String,
    /// Everything wrong with it.
    pub faults: Vec<RowFault>,
    /// What it contradicts, where that is why it was refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub contradiction: Option<Contradiction>,
    /// The text that was read in its place, once it was mended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mended_text: Option<String>,
    /// The run that the mended text tells.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run: Option<RunId>,
    /// Where it was refused first, and is kept for mending, when that was an earlier import.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused_before: Option<RefusedBeforeView>,
}

/// Where a row was refused first.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RefusedBeforeView {
    /// The import.
    pub import: Uuid,
    /// The line there.
    pub line: u64,
}

impl From<RefusedRow> for RefusedRowView {
    fn from(row: RefusedRow) -> Self {
        let faults = row
            .faults
            .into_iter()
            .map(|fault| RowFault {
                column: unescaped(&fault.column),
                value: unescaped(&fault.value),
                detail: unescaped(&fault.detail),
                code: fault.code,
            })
            .collect();
        let (mended_text, run) = match row.mending {
            Some(mending) => (Some(unescaped(&mending.text)), Some(mending.run)),
            None => (None, None),
        };
        Self {
            line: row.line,
            state: if run.is_some() { "mended" } else { "refused" }.to_owned(),
            text: unescaped(&row.text),
            faults,
            contradiction: row.contradiction,
            mended_text,
            run,
            refused_before: None,
        }
    }
}

impl RefusedRowView {
    /// A row that an import refused; nothing of one that is known from its mending.
    pub(super) fn of(refused: Refused) -> Option<Self> {
        match refused {
            Refused::Kept(kept) => Some(Self::from(kept.content)),
            Refused::Before { row, first } => Some(Self {
                refused_before: Some(RefusedBeforeView {
                    import: first.0,
                    line: first.1,
                }),
                ..Self::from(row)
            }),
            Refused::Mended(_) => None,
        }
    }
}
