//! Groups of commodities within which a validated screening method may be extended.
//!
//! Promises the groups of Implementing Regulation (EU) 2023/2782, Annex II, table 2 (table A of the
//! law before); refuses any other word.

use serde::{Deserialize, Serialize};

/// A group of commodities: a method that is validated for one of them takes another one of the
/// same group by ten and ten determinations more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CommodityGroup {
    /// High starch or protein, low water and fat: cereals and what is made of them.
    HighStarch,
    /// High oil: oilseeds, nuts, oily fruits.
    HighOil,
    /// High sugar, low water: dried fruit.
    HighSugar,
    /// Milk and milk products.
    Milk,
    /// High water: juices, wine, purees.
    HighWater,
    /// High acid and water: citrus fruit.
    HighAcid,
    /// Difficult or unique: cocoa, coffee, tea, spices, liquorice.
    Unique,
    /// Meat: muscle, liver, kidney; not in the law before.
    Meat,
}

impl CommodityGroup {
    /// The group, for people.
    ///
    /// ```
    /// use domain::screening_validations::CommodityGroup;
    /// assert!(CommodityGroup::HighStarch.name().contains("cereals"));
    /// assert!(serde_json::from_str::<CommodityGroup>("\"grain\"").is_err());
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::HighStarch => "high starch or protein, low water and fat (cereals)",
            Self::HighOil => "high oil (oilseeds, nuts, oily fruits)",
            Self::HighSugar => "high sugar, low water (dried fruit)",
            Self::Milk => "milk and milk products",
            Self::HighWater => "high water (juices, wine, purees)",
            Self::HighAcid => "high acid and water (citrus fruit)",
            Self::Unique => "difficult or unique (cocoa, coffee, tea, spices, liquorice)",
            Self::Meat => "meat (muscle, liver, kidney)",
        }
    }
}
