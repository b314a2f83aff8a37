//! What an order asks of the lot beside the result of its sample.
//!
//! Promises a model whose figures can be computed with; refuses a study of one's own with a range
//! upside down, and more earlier lots than an order should carry.

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::quantity::exact::at_most;
use crate::sampling_variance::LotModel;
use crate::statistics::lot_posterior::PriorLots;

/// Most earlier lots that an order carries.
const MOST_LOTS: usize = 200;

/// What is asked of the lot about one analyte.
///
/// ```
/// use domain::orders::AskedLotUncertainty;
/// let asked: AskedLotUncertainty = serde_json::from_str(
///     r#"{"analyte":"aflatoxin-total","model":{"model":"aflatoxin-shelled-corn"},
///         "before":{"prior":"flat","largest":"300"}}"#)?;
/// assert!(asked.check().is_ok());
/// let none: Result<AskedLotUncertainty, _> = serde_json::from_str(
///     r#"{"analyte":"aflatoxin-total","model":{"model":"aflatoxin-rice"}}"#);
/// assert!(none.is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct AskedLotUncertainty {
    /// What is measured; it has to be ordered.
    pub analyte: Analyte,
    /// Whose variances of sampling and preparation.
    pub model: LotModel,
    /// What was known of lots before; where nothing is said, every concentration up to the model's
    /// highest is as likely as another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<PriorLots>,
}

impl AskedLotUncertainty {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        if let Err(error) = self.model.facts() {
            faults.add("/model", format!("{error}."));
        }
        if let LotModel::Own { name, .. } = &self.model {
            entries::text(&mut faults, "/model/name", name, entries::NAME_LENGTH);
        }
        if let Some(PriorLots::Lots { concentrations, .. }) = &self.before
            && let Err(error) = at_most("earlier lots", concentrations.len(), MOST_LOTS)
        {
            faults.add("/before/concentrations", format!("{error}."));
        }
        faults.into_result()
    }
}
