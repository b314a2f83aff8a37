//! What a customer asked for, and what was agreed with them before the work began.
//!
//! Promises that the decision rule is agreed with its date (ISO/IEC 17025:2017, 7.1.3), and that
//! the order says for each analyte whether a number is wanted above the limit. Refuses an order
//! without an analyte, or with one named twice.

mod lot_uncertainty;

pub use lot_uncertainty::AskedLotUncertainty;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::entries;
use crate::faults::Faults;
use crate::id::{CustomerId, LimitId};

/// Personal data and free text of an [`Order`].
pub const DISCLOSED: &[&str] = &["/comment"];

/// What a customer asked for.
///
/// ```
/// use domain::orders::Order;
/// let order: Order = serde_json::from_str(
///     r#"{"code":"O-1","customer":"019ca869-5003-7d46-b59c-6cf85cca57e4",
///         "received_on":"2026-03-01","analytes":[{"analyte":"deoxynivalenol"}],
///         "jurisdictions":["EU"],"decision_rule":"simple","agreed_on":"2026-03-01"}"#)?;
/// assert!(order.check().is_ok());
/// let empty = Order { analytes: vec![], ..order };
/// assert_eq!(empty.check().unwrap_err().0[0].pointer, "/analytes");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Order {
    /// Unique in the laboratory.
    pub code: String,
    /// Who ordered.
    pub customer: CustomerId,
    /// Day it came in.
    pub received_on: NaiveDate,
    /// What is to be measured.
    pub analytes: Vec<OrderedAnalyte>,
    /// What the goods are meant for: words of the vocabulary of uses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub uses: Vec<String>,
    /// Whose law is asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jurisdictions: Vec<String>,
    /// Limits of the contract.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub contract_limits: Vec<LimitId>,
    /// The rule that was agreed for comparing a result with a limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decision_rule: Option<AgreedRule>,
    /// Day the rule was agreed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agreed_on: Option<NaiveDate>,
    /// Day whose limits are in force for the order, where it is not the lot's arrival.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub governing_date: Option<NaiveDate>,
    /// For which analytes the doubt of the lot is asked for too: sampling and preparation beside
    /// the analysis, and the chance that the lot is above each limit. Decisions stay with the
    /// analysis.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lot_uncertainty: Vec<AskedLotUncertainty>,
    /// Free text (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}

/// One analyte of an order.
///
/// ```
/// use domain::orders::OrderedAnalyte;
/// let ordered: OrderedAnalyte = serde_json::from_str(r#"{"analyte":"zearalenone"}"#)?;
/// assert!(!ordered.number_wanted_above_limit, "a bound that decides is enough unless asked");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct OrderedAnalyte {
    /// What is to be measured.
    pub analyte: Analyte,
    /// Whether a number is wanted where a lower bound already decides every limit.
    #[serde(default)]
    pub number_wanted_above_limit: bool,
}

/// The decision rule that laboratory and customer agreed on, by its name.
///
/// ```
/// use domain::orders::AgreedRule;
/// assert_eq!(serde_json::to_string(&AgreedRule::GuardedAcceptance)?, "\"guarded-acceptance\"");
/// assert!(serde_json::from_str::<AgreedRule>("\"by-eye\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AgreedRule {
    /// The value is compared as it is (ILAC-G8 simple acceptance).
    Simple,
    /// The rounded value is compared at the places of the limit.
    Rounded,
    /// Accepted only where value plus guard band is within the limit.
    GuardedAcceptance,
    /// Rejected only where value minus guard band is beyond the limit.
    GuardedRejection,
    /// Pass, conditional pass, conditional fail or fail.
    NonBinary,
    /// Negative or suspect at the cut-off of a screening method.
    Screening,
}

impl Order {
    /// Gathers what is wrong with the order.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        faults.require(!self.analytes.is_empty(), "/analytes", || {
            "name at least one analyte to be measured".into()
        });
        let analytes: Vec<Analyte> = self.analytes.iter().map(|one| one.analyte).collect();
        entries::distinct(&mut faults, "/analytes", &analytes);
        entries::slugs(&mut faults, "/uses", &self.uses);
        entries::jurisdictions(&mut faults, "/jurisdictions", &self.jurisdictions);
        entries::distinct(&mut faults, "/contract_limits", &self.contract_limits);
        faults.require(
            self.agreed_on.is_none() || self.decision_rule.is_some(),
            "/decision_rule",
            || "an agreement has a date but no rule: name the rule that was agreed".into(),
        );
        faults.require(
            self.decision_rule.is_none() || self.agreed_on.is_some(),
            "/agreed_on",
            || "say on which day the decision rule was agreed".into(),
        );
        let of_lot: Vec<Analyte> = self.lot_uncertainty.iter().map(|one| one.analyte).collect();
        entries::distinct(&mut faults, "/lot_uncertainty", &of_lot);
        for (position, asked) in self.lot_uncertainty.iter().enumerate() {
            faults.require(
                analytes.contains(&asked.analyte),
                format!("/lot_uncertainty/{position}/analyte"),
                || format!("{} is not ordered: name an analyte that is", asked.analyte),
            );
            faults.nest(&format!("/lot_uncertainty/{position}"), asked.check());
        }
        let comment = self.comment.as_deref();
        entries::optional_text(&mut faults, "/comment", comment, entries::TEXT_LENGTH);
        faults.into_result()
    }

    /// What is asked of the lot about an analyte beside the result of its sample.
    ///
    /// ```
    /// # use domain::orders::Order;
    /// use domain::analytes::Analyte;
    /// let order: Order = serde_json::from_str(
    ///     r#"{"code":"O-1","customer":"019ca869-5003-7d46-b59c-6cf85cca57e4",
    ///         "received_on":"2026-03-01","analytes":[{"analyte":"aflatoxin-total"}],
    ///         "lot_uncertainty":[{"analyte":"aflatoxin-total",
    ///             "model":{"model":"aflatoxin-shelled-corn"}}]}"#)?;
    /// assert!(order.check().is_ok());
    /// assert!(order.lot_uncertainty_of(Analyte::AflatoxinTotal).is_some());
    /// assert!(order.lot_uncertainty_of(Analyte::Zearalenone).is_none());
    /// let unordered = Order { analytes: serde_json::from_str(
    ///     r#"[{"analyte":"zearalenone"}]"#)?, ..order };
    /// assert_eq!(unordered.check().unwrap_err().0[0].pointer, "/lot_uncertainty/0/analyte");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn lot_uncertainty_of(&self, analyte: Analyte) -> Option<&AskedLotUncertainty> {
        self.lot_uncertainty
            .iter()
            .find(|asked| asked.analyte == analyte)
    }

    /// Whether the analyte was ordered, and a number is wanted even where a bound decides.
    ///
    /// ```
    /// # use domain::orders::Order;
    /// use domain::analytes::Analyte;
    /// let order: Order = serde_json::from_str(
    ///     r#"{"code":"O-1","customer":"019ca869-5003-7d46-b59c-6cf85cca57e4",
    ///         "received_on":"2026-03-01","analytes":[
    ///         {"analyte":"deoxynivalenol","number_wanted_above_limit":true}]}"#)?;
    /// assert!(order.wants_number_above_limit(Analyte::Deoxynivalenol));
    /// assert!(!order.wants_number_above_limit(Analyte::Zearalenone));
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn wants_number_above_limit(&self, analyte: Analyte) -> bool {
        self.analytes
            .iter()
            .any(|one| one.analyte == analyte && one.number_wanted_above_limit)
    }
}
