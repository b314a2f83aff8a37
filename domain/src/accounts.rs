//! Accounts of people and service clients: what the ledger keeps of them.
//!
//! Credentials and their hashes never stand here. Refuses an account without a role, and a
//! customer's account without its customer.

use crate::{
    faults::Faults,
    id::{CustomerId, ProcedureId},
    identity::Role,
};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// JSON pointers of what is personal in an [`Account`].
pub const DISCLOSED: &[&str] = &["/printed_name", "/email", "/login"];

/// JSON pointers of what is personal in a [`Client`].
pub const CLIENT_DISCLOSED: &[&str] = &["/name"];

/// An account of a person.
///
/// ```
/// use domain::{accounts::Account, identity::Role};
/// let mut account = Account {
///     login: "ines".into(),
///     printed_name: "Inés Duarte".into(),
///     email: None,
///     roles: vec![Role::Analyst],
///     authorisations: vec![],
///     customer: None,
///     state: Default::default(),
/// };
/// assert!(account.check().is_ok());
/// account.roles.clear();
/// assert!(account.check().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Account {
    /// What the person types to sign in: 2 to 60 lower-case letters, digits, `.`, `-`, `_`, `@`.
    #[cfg_attr(feature = "openapi", schema(example = "ines"))]
    pub login: String,
    /// The name that stands beside a signature.
    #[cfg_attr(feature = "openapi", schema(example = "Inés Duarte"))]
    pub printed_name: String,
    /// Where to write to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// What the person is in the laboratory.
    pub roles: Vec<Role>,
    /// Procedures that the person may run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub authorisations: Vec<Authorisation>,
    /// The customer that the person belongs to, for the role customer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer: Option<CustomerId>,
    /// Whether the person may sign in.
    #[serde(default)]
    pub state: AccountState,
}

/// Whether somebody may sign in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AccountState {
    /// May sign in.
    #[default]
    Active,
    /// May not any more; kept for what it once did.
    Closed,
}

impl AccountState {
    /// Its word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Active => "active",
            Self::Closed => "closed",
        }
    }
}

/// That a person may run a procedure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Authorisation {
    /// The procedure.
    pub procedure: ProcedureId,
    /// First day.
    pub from: NaiveDate,
    /// Last day; absent while it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<NaiveDate>,
}

impl Account {
    /// Every fault of the account.
    ///
    /// # Errors
    /// The faults, each with its JSON pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let allowed = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || ".-_@".contains(c);
        faults.require(
            (2..=60).contains(&self.login.chars().count()) && self.login.chars().all(allowed),
            "/login",
            || "A login has 2 to 60 lower-case letters, digits, or . - _ @".into(),
        );
        faults.require(
            !self.printed_name.trim().is_empty(),
            "/printed_name",
            || "Give the name that is to stand beside a signature.".into(),
        );
        faults.require(!self.roles.is_empty(), "/roles", || {
            "Give at least one role.".into()
        });
        faults.require(!self.roles.contains(&Role::Integrator), "/roles", || {
            "The role integrator is for service clients: register a client instead.".into()
        });
        let for_customer = self.roles.contains(&Role::Customer);
        faults.require(for_customer == self.customer.is_some(), "/customer", || {
            "A customer's account names its customer; no other account does.".into()
        });
        faults.require(!for_customer || self.roles.len() == 1, "/roles", || {
            "A customer's account has no other role.".into()
        });
        for (index, one) in self.authorisations.iter().enumerate() {
            faults.require(
                one.until.is_none_or(|until| until >= one.from),
                format!("/authorisations/{index}/until"),
                || "The last day lies before the first.".into(),
            );
        }
        faults.into_result()
    }

    /// Whether the person may run a procedure on a day.
    #[must_use]
    pub fn may_run(&self, procedure: ProcedureId, day: NaiveDate) -> bool {
        self.authorisations.iter().any(|one| {
            one.procedure == procedure
                && one.from <= day
                && one.until.is_none_or(|until| day <= until)
        })
    }
}

/// A service client: a reader's export, a weighbridge, an ERP.
///
/// ```
/// use domain::accounts::Client;
/// let client = |name: &str| Client { name: name.into(), state: Default::default() };
/// assert!(client("Export of bench 2").check().is_ok());
/// assert!(client(" ").check().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Client {
    /// What it is.
    #[cfg_attr(feature = "openapi", schema(example = "Export of bench 2"))]
    pub name: String,
    /// Whether it may ask for tokens.
    #[serde(default)]
    pub state: AccountState,
}

impl Client {
    /// Every fault of the client.
    ///
    /// # Errors
    /// The faults, each with its JSON pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(!self.name.trim().is_empty(), "/name", || {
            "Say what the client is.".into()
        });
        faults.into_result()
    }
}
