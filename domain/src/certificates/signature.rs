//! Who stands behind a certificate: laboratory, site, customer, and the people who signed.
//!
//! Promises that a person's name is always apart from the account that acted, so that the name
//! can be erased while who signed what stays provable.

use crate::id::{AccountId, CustomerId, SiteId};
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// The laboratory and the site that did the work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Issuer {
    /// The laboratory's name (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The laboratory's address (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// Telephone or e-mail (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
    /// The number under which it is accredited, where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accreditation: Option<String>,
    /// Where the work was done.
    pub site: Site,
}

/// A place of the laboratory.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Site {
    /// The site's id.
    pub id: SiteId,
    /// The site's code.
    pub code: String,
    /// The site's name (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Its address, where it is not the laboratory's (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
}

/// Who ordered the work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Customer {
    /// The customer's id.
    pub id: CustomerId,
    /// Name (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Address (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// Person, telephone or e-mail (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
}

/// A person who acted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// The account that acted.
    pub account: AccountId,
    /// The person's name (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

/// What a signature says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Meaning {
    /// I made this measurement and recorded it.
    Recorded,
    /// I checked reading, arithmetic, controls and holds.
    Reviewed,
    /// I release these results.
    Released,
    /// I issue this certificate.
    Issued,
}

impl Meaning {
    /// The meaning in words, as it is printed beside the name.
    ///
    /// ```
    /// use domain::certificates::Meaning;
    /// assert!(Meaning::Released.words().contains("released"));
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Recorded => "recorded the runs",
            Self::Reviewed => "reviewed readings, arithmetic, controls and holds",
            Self::Released => "reviewed and released the results",
            Self::Issued => "authorised this certificate",
        }
    }
}

/// A signature: who, when, meaning what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signature {
    /// Who signed.
    pub by: Person,
    /// When.
    pub signed_at: Moment,
    /// What it says.
    pub meaning: Meaning,
    /// A comment (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
}
