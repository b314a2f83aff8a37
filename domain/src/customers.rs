//! Who orders, sells, buys or acts for somebody who does.
//!
//! Promises that a customer is never deleted, only set inactive; refuses one without code or name.

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;

/// Personal data and free text of a [`Customer`].
pub const DISCLOSED: &[&str] = &["/name", "/address", "/email", "/telephone"];

/// Who ordered, or is a party of a lot.
///
/// ```
/// use domain::customers::{Customer, CustomerState};
/// let customer: Customer = serde_json::from_str(r#"{"code":"MILL","name":"A mill"}"#)?;
/// assert!(customer.check().is_ok());
/// assert_eq!(customer.state, CustomerState::Active);
/// let nameless = Customer { name: String::new(), ..customer };
/// assert_eq!(nameless.check().unwrap_err().0[0].pointer, "/name");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Customer {
    /// Unique in the laboratory.
    pub code: String,
    /// Name (disclosed).
    pub name: String,
    /// Postal address (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// E-mail address (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// Telephone number (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub telephone: Option<String>,
    /// Whether new orders and lots may name it.
    #[serde(default)]
    pub state: CustomerState,
}

/// Whether new orders and lots may name the customer.
///
/// ```
/// use domain::customers::CustomerState;
/// assert_eq!(serde_json::to_string(&CustomerState::Inactive)?, "\"inactive\"");
/// assert!(serde_json::from_str::<CustomerState>("\"deleted\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CustomerState {
    /// In use.
    #[default]
    Active,
    /// Kept for what it once ordered.
    Inactive,
}

/// Why a customer's state does not change.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CustomerError {
    /// It is in that state already.
    #[error("customer {code} is {state} already",
        state = if *.active { "active" } else { "inactive" })]
    Unchanged {
        /// Its code.
        code: String,
        /// Whether it is active.
        active: bool,
    },
}

impl Customer {
    /// Gathers what is wrong with the customer.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        let address = self.address.as_deref();
        entries::optional_text(&mut faults, "/address", address, entries::TEXT_LENGTH);
        let telephone = self.telephone.as_deref();
        entries::optional_text(&mut faults, "/telephone", telephone, entries::CODE_LENGTH);
        if let Some(email) = self.email.as_deref() {
            entries::text(&mut faults, "/email", email, entries::NAME_LENGTH);
            let good = email.split_once('@').is_some_and(|(person, host)| {
                !person.is_empty() && !host.is_empty() && !host.contains('@')
            }) && !email.contains(char::is_whitespace);
            faults.require(good, "/email", || "is no e-mail address".into());
        }
        faults.into_result()
    }

    /// Takes the customer out of use, or into it again.
    ///
    /// # Errors
    /// [`CustomerError::Unchanged`] where it is in that state already.
    ///
    /// ```
    /// use domain::customers::{Customer, CustomerState};
    /// let customer: Customer = serde_json::from_str(r#"{"code":"MILL","name":"A mill"}"#)?;
    /// let inactive = customer.set_state(CustomerState::Inactive).map_err(|e| e.to_string());
    /// let inactive = inactive.expect("it was active");
    /// assert!(inactive.set_state(CustomerState::Inactive).is_err());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn set_state(&self, state: CustomerState) -> Result<Self, CustomerError> {
        if self.state == state {
            return Err(CustomerError::Unchanged {
                code: self.code.clone(),
                active: state == CustomerState::Active,
            });
        }
        Ok(Self {
            state,
            ..self.clone()
        })
    }
}
