//! What is asked for where something is to be erased, and how an erasure is shown.

use super::locating::Located;
use crate::{kept::Kept, request::Entered};
use domain::{
    entries,
    erasures::{ErasedMember, Erasure, ErasureCode},
    faults::Faults,
    time::Moment,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Most subjects that one request names.
const MOST_SUBJECTS: usize = 200;

/// What is to be erased, and why.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct EraseDisclosures {
    /// The subjects of which something goes: 1 to 200.
    #[schema(min_items = 1, max_items = 200)]
    pub subjects: Vec<ErasureOf>,
    /// Whether everything else of the laboratory that holds one of the erased texts goes as well:
    /// the customer's name on certificates, a comment that names the person.
    #[serde(default = "yes")]
    #[schema(default = true)]
    pub elsewhere: bool,
    /// Only show what would go.
    #[serde(default)]
    pub dry_run: bool,
    /// Why.
    pub reason: ErasureReason,
}

const fn yes() -> bool {
    true
}

/// A subject of which something is to be erased.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ErasureOf {
    /// The subject: a customer, an account, a sample, a certificate …
    pub subject: Uuid,
    /// Its versions; all where nothing is said.
    pub versions: Option<Vec<i32>>,
    /// JSON pointers of the members, `*` for each element of a list; all personal data and free
    /// text where nothing is said. `/reason/text` is the reason of the acts that recorded it.
    #[schema(example = json!(["/name", "/email"]))]
    pub members: Option<Vec<String>>,
}

/// Why something is erased. Do not repeat in it what is to be erased.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ErasureReason {
    /// The kind of reason.
    pub code: ErasureCode,
    /// The reason in words, such as the number under which the request is filed.
    #[schema(example = "Request 2026-014 of 3 March, granted on 5 March.")]
    pub text: String,
}

impl Entered for EraseDisclosures {
    fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(
            (1..=MOST_SUBJECTS).contains(&self.subjects.len()),
            "/subjects",
            || format!("Name 1 to {MOST_SUBJECTS} subjects."),
        );
        for (index, one) in self.subjects.iter().enumerate() {
            let below = |name: &str| format!("/subjects/{index}/{name}");
            faults.require(
                one.versions.as_ref().is_none_or(|some| !some.is_empty()),
                below("versions"),
                || "Name a version, or leave the member out for all of them.".into(),
            );
            faults.require(
                one.members.as_ref().is_none_or(|some| {
                    !some.is_empty() && some.iter().all(|member| member.starts_with('/'))
                }),
                below("members"),
                || "Name members by JSON pointers such as /name, or leave it out for all.".into(),
            );
        }
        entries::text(
            &mut faults,
            "/reason/text",
            &self.reason.text,
            entries::TEXT_LENGTH,
        );
        faults.into_result()
    }
}

/// An erasure, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ErasureView {
    /// The erasure.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What was erased.
    pub erased: Vec<ErasedView>,
    /// SHA-256 of the uploads that held it and were deleted.
    pub uploads: Vec<String>,
    /// Certificates that are handed out without it from now on.
    pub certificates: Vec<Uuid>,
    /// Whether it was only shown what would go.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// When it was erased.
    pub created_at: Moment,
}

/// Something that was erased, or would be.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ErasedView {
    /// What it was, and what stands in its place.
    #[serde(flatten)]
    pub erased: ErasedMember,
    /// What it says, where it is only shown what would go.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub value: Option<Value>,
}

impl From<Kept<Erasure>> for ErasureView {
    fn from(kept: Kept<Erasure>) -> Self {
        let certificates = certificates(&kept.content.erased);
        Self {
            id: kept.id,
            version: kept.version,
            erased: kept
                .content
                .erased
                .into_iter()
                .map(|erased| ErasedView {
                    erased,
                    value: None,
                })
                .collect(),
            uploads: kept.content.uploads,
            certificates,
            dry_run: false,
            created_at: kept.created_at,
        }
    }
}

impl ErasureView {
    /// The view of an erasure that was rehearsed, with the values that would go.
    pub(super) fn rehearsed(kept: Kept<Erasure>, located: &[Located]) -> Self {
        let values: BTreeMap<&str, &Value> = located
            .iter()
            .map(|one| (one.member.digest.as_str(), &one.value))
            .collect();
        let mut view = Self::from(kept);
        for one in &mut view.erased {
            one.value = values
                .get(one.erased.digest.as_str())
                .map(|value| (*value).clone());
        }
        view.dry_run = true;
        view
    }
}

fn certificates(erased: &[ErasedMember]) -> Vec<Uuid> {
    let mut found: Vec<Uuid> = erased
        .iter()
        .filter(|one| one.held_in == domain::erasures::HeldIn::Certificate)
        .filter_map(|one| one.subject)
        .collect();
    found.sort_unstable();
    found.dedup();
    found
}
