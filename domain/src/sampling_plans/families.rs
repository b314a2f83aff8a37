//! The families of published plans: which goods and which days each is for.
//!
//! Promises that a family says what it is for; refuses goods and days that it is not for.

use chrono::NaiveDate;

use crate::commodities;
use crate::quantity::exact::{Answer, out_of_range, pole};

/// Plans that belong together: the beginning of their ids.
pub(super) struct Family {
    pub(super) id: &'static str,
    /// Ids of the commodity vocabulary that it is for, and below; empty: any.
    pub(super) commodities: &'static [&'static str],
    /// Ids that are taken out again.
    pub(super) except: &'static [&'static str],
    /// First and last day, where they are known.
    from: Option<(i32, u32, u32)>,
    to: Option<(i32, u32, u32)>,
}

const fn family(id: &'static str, commodities: &'static [&'static str]) -> Family {
    Family {
        id,
        commodities,
        except: &[],
        from: None,
        to: None,
    }
}

/// Regulation (EU) 2023/2782 applies from 2024-04-01 and repeals 401/2006. Which goods a plan is
/// for is our reading of its words.
const NEW_LAW: Option<(i32, u32, u32)> = Some((2024, 4, 1));
pub(super) const FAMILIES: &[Family] = &[
    Family {
        except: &["groundnut"],
        from: NEW_LAW,
        ..family("eu-2023-cereal", &["cereal", "oilseed"])
    },
    Family {
        except: &["groundnut"],
        from: NEW_LAW,
        ..family("eu-2023-smallgrain", &["cereal-grain", "oilseed"])
    },
    Family {
        from: NEW_LAW,
        ..family(
            "eu-2023-nuts",
            &["groundnut", "tree-nut", "apricot-kernel", "spice"],
        )
    },
    Family {
        from: NEW_LAW,
        ..family(
            "eu-2023-nut-products",
            &["groundnut-product", "tree-nut-product"],
        )
    },
    Family {
        from: NEW_LAW,
        ..family("eu-2023-retail-cereal", &["cereal", "oilseed"])
    },
    Family {
        to: Some((2024, 3, 31)),
        ..family("eu-2006-cereal", &["cereal"])
    },
    family(
        "eu-feed",
        &[
            "feed-material",
            "cereal",
            "oilseed",
            "compound-feed",
            "pulse",
            "forage",
        ],
    ),
    family("codex-peanuts", &["groundnut"]),
    family("codex-peanuts-inshell", &["groundnut"]),
    family(
        "codex-nuts-rte",
        &["almond", "hazelnut", "pistachio", "brazil-nut"],
    ),
    family(
        "codex-nuts-processing",
        &["almond", "hazelnut", "pistachio", "brazil-nut"],
    ),
    family("codex-maize-grain-fumonisin", &["maize-grain"]),
    family("codex-maize-flour-fumonisin", &["maize-milling-product"]),
    family(
        "codex-cereal-don",
        &["wheat-grain", "maize-grain", "barley-grain"],
    ),
    family("codex-cereal-flour-don", &["cereal-milling-product"]),
    family("codex-infant-cereal-don", &["infant-cereal-food"]),
    family("us-fgis-aflatoxin-truck", &["cereal-grain"]),
    family("us-fgis-aflatoxin-truck-2", &["maize-grain"]),
    family("us-fgis-aflatoxin-railcar", &["cereal-grain"]),
    family("us-fgis-aflatoxin-barge-sublot", &["cereal-grain"]),
    family("us-fgis-aflatoxin-export", &["maize-grain"]),
    family("us-fgis-don-truck-2016", &["maize-grain"]),
    family("us-fgis-don-export-2018", &["maize-grain"]),
    family("us-ams-peanuts", &["groundnut"]),
    family("us-extension-corn-composite", &["maize"]),
];

impl Family {
    pub(super) fn admit_commodity(&self, commodity: &str) -> Answer<()> {
        let vocabulary = commodities::shipped()
            .ok_or_else(|| pole("vocabulary", "it cannot be read".to_owned()))?;
        let goods = &vocabulary.commodities;
        let within = |ids: &[&str]| ids.iter().any(|id| goods.is_within(commodity, id));
        if self.commodities.is_empty() || (within(self.commodities) && !within(self.except)) {
            return Ok(());
        }
        let mut must = format!(
            "within {}, which {} is for",
            self.commodities.join(", "),
            self.id
        );
        if !self.except.is_empty() {
            must.push_str(&format!(", but not within {}", self.except.join(", ")));
        }
        Err(out_of_range("commodity", commodity, must))
    }

    pub(super) fn admit_day(&self, on: NaiveDate) -> Answer<()> {
        let day = |given: Option<(i32, u32, u32)>| {
            given.and_then(|(year, month, day)| NaiveDate::from_ymd_opt(year, month, day))
        };
        if day(self.from).is_some_and(|from| on < from) || day(self.to).is_some_and(|to| on > to) {
            let shown = |given| day(given).map_or_else(String::new, |day| day.to_string());
            let must = format!(
                "in the time of {}: {} to {}",
                self.id,
                shown(self.from),
                shown(self.to)
            );
            return Err(out_of_range("day of sampling", on, must));
        }
        Ok(())
    }
}
