//! The mycotoxins that limits and results name, and which of them is part of which.
//!
//! Promises one slug per analyte, the same in records, limits and addresses; refuses any other
//! text. A sum is an analyte of its own: it contains its parts, and is never equal to one.

use serde::{Deserialize, Serialize};

/// What was measured, or what a limit is for.
///
/// ```
/// use domain::analytes::Analyte;
/// let analyte: Analyte = "aflatoxin-total".parse()?;
/// assert_eq!(analyte.name(), "aflatoxins, sum of B1, B2, G1 and G2");
/// assert!("aflatoxin".parse::<Analyte>().is_err());
/// # Ok::<(), domain::analytes::UnknownAnalyte>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Analyte {
    /// Sum of aflatoxins B1, B2, G1 and G2.
    #[serde(rename = "aflatoxin-total")]
    AflatoxinTotal,
    /// Aflatoxin B1 alone.
    #[serde(rename = "aflatoxin-b1")]
    AflatoxinB1,
    /// Aflatoxin M1, the one of milk; no part of the sum B1, B2, G1, G2.
    #[serde(rename = "aflatoxin-m1")]
    AflatoxinM1,
    /// Deoxynivalenol.
    #[serde(rename = "deoxynivalenol")]
    Deoxynivalenol,
    /// Sum of fumonisins B1 and B2.
    #[serde(rename = "fumonisin-b1-b2")]
    FumonisinB1B2,
    /// Sum of fumonisins B1, B2 and B3.
    #[serde(rename = "fumonisin-total-b1-b2-b3")]
    FumonisinTotalB1B2B3,
    /// Zearalenone.
    #[serde(rename = "zearalenone")]
    Zearalenone,
    /// Ochratoxin A.
    #[serde(rename = "ochratoxin-a")]
    OchratoxinA,
    /// Sum of T-2 and HT-2 toxin.
    #[serde(rename = "t2-ht2")]
    T2Ht2,
}

/// The text is the slug of no analyte.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("analyte \"{0}\" is not known; the known ones are {known}", known = Analyte::slugs())]
pub struct UnknownAnalyte(pub String);

impl Analyte {
    /// Every analyte, in the order of display.
    pub const ALL: [Self; 9] = [
        Self::AflatoxinTotal,
        Self::AflatoxinB1,
        Self::AflatoxinM1,
        Self::Deoxynivalenol,
        Self::FumonisinB1B2,
        Self::FumonisinTotalB1B2B3,
        Self::Zearalenone,
        Self::OchratoxinA,
        Self::T2Ht2,
    ];

    /// The slug used in records and addresses.
    ///
    /// ```
    /// assert_eq!(domain::analytes::Analyte::T2Ht2.slug(), "t2-ht2");
    /// ```
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::AflatoxinTotal => "aflatoxin-total",
            Self::AflatoxinB1 => "aflatoxin-b1",
            Self::AflatoxinM1 => "aflatoxin-m1",
            Self::Deoxynivalenol => "deoxynivalenol",
            Self::FumonisinB1B2 => "fumonisin-b1-b2",
            Self::FumonisinTotalB1B2B3 => "fumonisin-total-b1-b2-b3",
            Self::Zearalenone => "zearalenone",
            Self::OchratoxinA => "ochratoxin-a",
            Self::T2Ht2 => "t2-ht2",
        }
    }

    /// The name for people, which says what a sum is of.
    ///
    /// ```
    /// assert_eq!(domain::analytes::Analyte::OchratoxinA.name(), "ochratoxin A");
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AflatoxinTotal => "aflatoxins, sum of B1, B2, G1 and G2",
            Self::AflatoxinB1 => "aflatoxin B1",
            Self::AflatoxinM1 => "aflatoxin M1",
            Self::Deoxynivalenol => "deoxynivalenol",
            Self::FumonisinB1B2 => "fumonisins, sum of B1 and B2",
            Self::FumonisinTotalB1B2B3 => "fumonisins, sum of B1, B2 and B3",
            Self::Zearalenone => "zearalenone",
            Self::OchratoxinA => "ochratoxin A",
            Self::T2Ht2 => "T-2 and HT-2 toxin, sum",
        }
    }

    /// Whether `part` is one of the toxins, or a smaller sum of the toxins, that this sum adds up.
    /// No analyte contains itself.
    ///
    /// ```
    /// use domain::analytes::Analyte;
    /// assert!(Analyte::AflatoxinTotal.contains(Analyte::AflatoxinB1));
    /// assert!(!Analyte::AflatoxinTotal.contains(Analyte::AflatoxinM1));
    /// assert!(!Analyte::AflatoxinB1.contains(Analyte::AflatoxinTotal));
    /// ```
    #[must_use]
    pub fn contains(self, part: Self) -> bool {
        matches!(
            (self, part),
            (Self::AflatoxinTotal, Self::AflatoxinB1)
                | (Self::FumonisinTotalB1B2B3, Self::FumonisinB1B2)
        )
    }

    /// Whether a result for this analyte says anything about a limit on `other`.
    ///
    /// ```
    /// use domain::analytes::Analyte;
    /// assert!(Analyte::FumonisinB1B2.bears_on(Analyte::FumonisinTotalB1B2B3));
    /// assert!(!Analyte::Zearalenone.bears_on(Analyte::Deoxynivalenol));
    /// ```
    #[must_use]
    pub fn bears_on(self, other: Self) -> bool {
        self == other || self.contains(other) || other.contains(self)
    }

    fn slugs() -> String {
        Self::ALL.map(Self::slug).join(", ")
    }
}

impl std::fmt::Display for Analyte {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.slug())
    }
}

impl std::str::FromStr for Analyte {
    type Err = UnknownAnalyte;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|analyte| analyte.slug() == text)
            .ok_or_else(|| UnknownAnalyte(text.chars().take(60).collect()))
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn a_slug_is_the_wire_name_and_parses_back() {
        for analyte in Analyte::ALL {
            let wire = serde_json::to_string(&analyte).unwrap();
            assert_eq!(wire, format!("\"{}\"", analyte.slug()));
            assert_eq!(analyte.slug().parse::<Analyte>().unwrap(), analyte);
        }
        assert!(serde_json::from_str::<Analyte>("\"patulin\"").is_err());
    }

    #[test]
    fn containment_is_strict() {
        for one in Analyte::ALL {
            assert!(!one.contains(one));
            for other in Analyte::ALL {
                assert!(!(one.contains(other) && other.contains(one)));
            }
        }
    }
}
