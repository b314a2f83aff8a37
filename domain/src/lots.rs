//! The goods: their parties, their carrier, and which customers may see what of them.
//!
//! Promises that a customer sees of a lot exactly what its entry there grants; refuses a lot
//! without mass or commodity, a party named twice and a lot that is its own sublot.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{CustomerId, LotId, OrderId};
use crate::limits::ConditionFacts;
use crate::quantity::Number;

/// Personal data and free text of a [`Lot`].
pub const DISCLOSED: &[&str] = &["/carrier/registration", "/comment"];

/// A lot, or a sublot of one.
///
/// ```
/// use domain::lots::Lot;
/// let lot: Lot = serde_json::from_str(
///     r#"{"code":"L-0417","commodity":"maize-grain","mass_kg":"24800","arrived_on":"2026-03-01",
///         "carrier":{"kind":"truck","registration":"AB 123"}}"#)?;
/// assert!(lot.check().is_ok());
/// let weightless = Lot { mass_kg: "0".parse().ok(), ..lot };
/// assert_eq!(weightless.check().unwrap_err().0[0].pointer, "/mass_kg");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Unique in the laboratory.
    pub code: String,
    /// The lot that this is a sublot of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<LotId>,
    /// The order that it is measured for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order: Option<OrderId>,
    /// Whose lot it is: sees its results.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer: Option<CustomerId>,
    /// A word of the vocabulary of commodities.
    pub commodity: String,
    /// Mass in kg, as the weighbridge or the papers say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<Number>,
    /// What it came in, or lies in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carrier: Option<Carrier>,
    /// Day it arrived: chooses the limits in force unless the order says otherwise.
    pub arrived_on: NaiveDate,
    /// Country or region it was grown in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// Who else has to do with it, and what they may see.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parties: Vec<Party>,
    /// What the goods are meant for: words of the vocabulary of uses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub intended_uses: Vec<String>,
    /// Whose law is asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jurisdictions: Vec<String>,
    /// Facts that limits depend on, by the limit's id: whether each is met. A limit with a
    /// condition decides only once its fact stands here.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub condition_facts: ConditionFacts,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// What a lot came in, or lies in.
///
/// ```
/// use domain::lots::{Carrier, CarrierKind};
/// let carrier: Carrier = serde_json::from_str(r#"{"kind":"rail-wagon"}"#)?;
/// assert_eq!(carrier.kind, CarrierKind::RailWagon);
/// assert!(serde_json::from_str::<Carrier>(r#"{"kind":"bicycle"}"#).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Carrier {
    /// Of which kind.
    pub kind: CarrierKind,
    /// Number plate, wagon, hull, container or cell number (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub registration: Option<String>,
}

/// Kind of carrier or store.
///
/// ```
/// use domain::lots::CarrierKind;
/// assert_eq!(serde_json::to_string(&CarrierKind::RailWagon)?, "\"rail-wagon\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CarrierKind {
    /// Road vehicle.
    Truck,
    /// Rail wagon.
    RailWagon,
    /// Inland vessel.
    Barge,
    /// Sea vessel.
    Vessel,
    /// Container.
    Container,
    /// Silo or its cell.
    Silo,
    /// Bags or big bags.
    Bags,
}

/// A customer's part in a lot.
///
/// ```
/// use domain::lots::{Party, PartyRole, Sees};
/// let party: Party = serde_json::from_str(
///     r#"{"customer":"019ca869-5003-7d46-b59c-6cf85cca57e4","role":"buyer","sees":"results"}"#)?;
/// assert_eq!((party.role, party.sees), (PartyRole::Buyer, Sees::Results));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Party {
    /// Who.
    pub customer: CustomerId,
    /// In which part.
    pub role: PartyRole,
    /// What they may see.
    pub sees: Sees,
}

/// Part of a customer in a lot.
///
/// ```
/// use domain::lots::PartyRole;
/// assert_eq!(serde_json::to_string(&PartyRole::Agent)?, "\"agent\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum PartyRole {
    /// Sells the goods.
    Seller,
    /// Buys the goods.
    Buyer,
    /// Acts for one of them.
    Agent,
}

/// What a customer may see of a lot, each grant more than the one before.
///
/// ```
/// use domain::lots::Sees;
/// assert!(Sees::Results > Sees::Certificates);
/// assert!(Sees::Certificates > Sees::Nothing);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Sees {
    /// Not even that there is such a lot.
    Nothing,
    /// The lot and its certificates.
    Certificates,
    /// Also its released results before a certificate is issued.
    Results,
}

/// Why a lot cannot be a sublot of another.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LotError {
    /// The lot would be its own sublot, at once or through others.
    #[error("lot {code} cannot be a sublot of itself, nor of one of its own sublots")]
    Circle {
        /// Its code.
        code: String,
    },
    /// The sublot's commodity is not the lot's.
    #[error("sublot {code} is {commodity}, but its lot is {parent_commodity}")]
    OtherCommodity {
        /// Code of the sublot.
        code: String,
        /// Commodity of the sublot.
        commodity: String,
        /// Commodity of the lot.
        parent_commodity: String,
    },
}

impl Lot {
    /// Gathers what is wrong with the lot.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::slug(&mut faults, "/commodity", &self.commodity);
        entries::positive(&mut faults, "/mass_kg", self.mass_kg, "kg");
        let registration = self
            .carrier
            .as_ref()
            .and_then(|c| c.registration.as_deref());
        let pointer = "/carrier/registration";
        entries::optional_text(&mut faults, pointer, registration, entries::NAME_LENGTH);
        let origin = self.origin.as_deref();
        entries::optional_text(&mut faults, "/origin", origin, entries::NAME_LENGTH);
        let parts: Vec<_> = self.parties.iter().map(|p| (p.customer, p.role)).collect();
        entries::distinct(&mut faults, "/parties", &parts);
        entries::slugs(&mut faults, "/intended_uses", &self.intended_uses);
        entries::jurisdictions(&mut faults, "/jurisdictions", &self.jurisdictions);
        let comment = self.comment.as_deref();
        entries::optional_text(&mut faults, "/comment", comment, entries::TEXT_LENGTH);
        faults.into_result()
    }

    /// Checks the lot, whose id is `id`, against the lots it is a sublot of: its parent first,
    /// then the parent's parent, and so on.
    ///
    /// # Errors
    /// [`LotError`].
    ///
    /// ```
    /// use domain::lots::Lot;
    /// let (whole, part) = ("019ca869-5003-7d46-b59c-6cf85cca5701".parse()?,
    ///     "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?);
    /// let lot: Lot = serde_json::from_str(
    ///     r#"{"code":"L-1","commodity":"maize-grain","arrived_on":"2026-03-01"}"#)?;
    /// assert!(lot.check_parents(part, &[(whole, &lot)]).is_ok());
    /// assert!(lot.check_parents(part, &[(whole, &lot), (part, &lot)]).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn check_parents(&self, id: LotId, parents: &[(LotId, &Self)]) -> Result<(), LotError> {
        if parents.iter().any(|(parent, _)| *parent == id) {
            return Err(LotError::Circle {
                code: self.code.clone(),
            });
        }
        match parents.first() {
            Some((_, parent)) if parent.commodity != self.commodity => {
                Err(LotError::OtherCommodity {
                    code: self.code.clone(),
                    commodity: self.commodity.clone(),
                    parent_commodity: parent.commodity.clone(),
                })
            }
            Some(_) | None => Ok(()),
        }
    }

    /// What a customer may see of this lot: results where it is their own, else the most that any
    /// of their entries grants.
    ///
    /// A sublot has parties of its own: a party of the whole sees nothing of it by that.
    ///
    /// ```
    /// use domain::lots::{Lot, Sees};
    /// let lot: Lot = serde_json::from_str(
    ///     r#"{"code":"L-1","commodity":"maize-grain","arrived_on":"2026-03-01",
    ///         "customer":"019ca869-5003-7d46-b59c-6cf85cca5701","parties":[
    ///         {"customer":"019ca869-5003-7d46-b59c-6cf85cca5702","role":"buyer",
    ///          "sees":"certificates"}]}"#)?;
    /// assert_eq!(lot.seen_by("019ca869-5003-7d46-b59c-6cf85cca5701".parse()?), Sees::Results);
    /// let buyer = "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?;
    /// assert_eq!(lot.seen_by(buyer), Sees::Certificates);
    /// assert_eq!(lot.seen_by("019ca869-5003-7d46-b59c-6cf85cca5703".parse()?), Sees::Nothing);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn seen_by(&self, customer: CustomerId) -> Sees {
        if self.customer == Some(customer) {
            return Sees::Results;
        }
        self.parties
            .iter()
            .filter(|party| party.customer == customer)
            .map(|party| party.sees)
            .max()
            .unwrap_or(Sees::Nothing)
    }

    /// The customers that may see something of this lot, each with what; sorted, nobody twice.
    ///
    /// ```
    /// use domain::lots::Lot;
    /// let lot: Lot = serde_json::from_str(
    ///     r#"{"code":"L-1","commodity":"maize-grain","arrived_on":"2026-03-01","parties":[
    ///         {"customer":"019ca869-5003-7d46-b59c-6cf85cca5702","role":"agent",
    ///          "sees":"nothing"}]}"#)?;
    /// assert!(lot.viewers().is_empty());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn viewers(&self) -> Vec<(CustomerId, Sees)> {
        let mut customers: Vec<_> = self
            .customer
            .into_iter()
            .chain(self.parties.iter().map(|party| party.customer))
            .collect();
        customers.sort_unstable();
        customers.dedup();
        customers
            .into_iter()
            .map(|customer| (customer, self.seen_by(customer)))
            .filter(|(_, sees)| *sees != Sees::Nothing)
            .collect()
    }
}
