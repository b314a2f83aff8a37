//! The taking of increments from a lot: who, where, when, with what, how many.
//!
//! Promises that a sampling says what its report needs (ISO/IEC 17025:2017, 7.3.3 and 7.8.5), and
//! what of it departs from the plan that it names; refuses one without a time or with amounts that
//! are not above zero. A plan that nobody knows here is the laboratory's own: it is never refused.

mod plan_check;

pub use plan_check::{PlanCheck, PlanStanding, plan_check};

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, EquipmentId, LotId};
use crate::quantity::Number;
use crate::time::Moment;

/// Personal data and free text of a [`Sampling`].
pub const DISCLOSED: &[&str] = &["/taken_by", "/place", "/deviations"];

/// The taking of increments from a lot.
///
/// ```
/// use domain::samplings::Sampling;
/// let sampling: Sampling = serde_json::from_str(
///     r#"{"lot":"019ca869-5003-7d46-b59c-6cf85cca57e4","taken_at":"2026-03-01T08:00:00Z",
///         "increments":9,"increment_mass_g":"350","aggregate_mass_kg":"3.15"}"#)?;
/// assert!(sampling.check().is_ok());
/// let none = Sampling { increments: Some(0), ..sampling };
/// assert_eq!(none.check().unwrap_err().0[0].pointer, "/increments");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Sampling {
    /// The lot that was sampled.
    pub lot: LotId,
    /// When it was finished.
    pub taken_at: Moment,
    /// Who took it, where that is nobody with an account (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_by: Option<String>,
    /// Who took it, where they have an account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub account: Option<AccountId>,
    /// Where (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Probe, trier or automatic sampler.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<EquipmentId>,
    /// The plan that was followed: a published one by the name that its rows share, such as
    /// `eu-2023-cereal`, or the laboratory's own, by its code.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<String>,
    /// How many increments were taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increments: Option<u32>,
    /// Mass of one increment in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub increment_mass_g: Option<Number>,
    /// Mass of the aggregate sample in kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aggregate_mass_kg: Option<Number>,
    /// How many laboratory samples were made of the aggregate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory_samples: Option<u32>,
    /// Whether the lot could have been divided into sublots; yes where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub separable: Option<bool>,
    /// Pattern of the probing points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pattern: Option<String>,
    /// Number of the seal that it was closed with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<String>,
    /// What was done otherwise than the plan says (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviations: Option<String>,
}

impl Sampling {
    /// Gathers what is wrong with the sampling.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for (pointer, value, longest) in [
            ("/taken_by", &self.taken_by, entries::NAME_LENGTH),
            ("/place", &self.place, entries::NAME_LENGTH),
            ("/plan", &self.plan, entries::NAME_LENGTH),
            ("/pattern", &self.pattern, entries::NAME_LENGTH),
            ("/seal", &self.seal, entries::NAME_LENGTH),
            ("/deviations", &self.deviations, entries::TEXT_LENGTH),
        ] {
            entries::optional_text(&mut faults, pointer, value.as_deref(), longest);
        }
        faults.require(self.increments != Some(0), "/increments", || {
            "no increment was taken: there is no sample".into()
        });
        faults.require(
            self.laboratory_samples != Some(0),
            "/laboratory_samples",
            || "no laboratory sample was made: there is no sample".into(),
        );
        entries::positive(&mut faults, "/increment_mass_g", self.increment_mass_g, "g");
        entries::positive(
            &mut faults,
            "/aggregate_mass_kg",
            self.aggregate_mass_kg,
            "kg",
        );
        faults.into_result()
    }
}
