//! The demo's bench: equipment, readers, procedures, kit lots, controls, limits. All invented;
//! tolerances are common practice of the trade, with no source.

use super::{
    caller::{text, version},
    people::People,
};
use crate::error::Answer;
use chrono::{Days, NaiveDate};
use domain::time::Moment;
use rust_decimal::Decimal;
use serde_json::{Value, json};

/// What stands on the bench, by id.
pub(crate) struct Bench {
    pub(crate) site: String,
    pub(crate) aflatoxin_procedure: String,
    pub(crate) vomitoxin_procedure: String,
    pub(crate) aflatoxin_control: String,
    pub(crate) aflatoxin_lot: String,
}

/// Serial numbers of the two readers.
pub(crate) const READERS: [&str; 2] = ["MP-R1", "MP-R2"];
/// Kit lots: aflatoxin in date, deoxynivalenol in date, aflatoxin past its date.
pub(crate) const AFLATOXIN_LOT: &str = "AF-118";
pub(crate) const VOMITOXIN_LOT: &str = "DN-042";
pub(crate) const PAST_LOT: &str = "AF-097";

const LIMITS: [&str; 8] = [
    "us-food-general-afla",
    "us-food-peanut-products-afla",
    "us-feed-feed-dairy-unknown-afla",
    "us-feed-corn-finishing-beef-afla",
    "us-feed-corn-finishing-swine-afla",
    "us-feed-corn-breeding-mature-afla",
    "us-feed-grain-beef-don",
    "us-feed-grain-swine-don",
];

pub(crate) fn day(now: Moment, ago: u64) -> NaiveDate {
    let today = now.utc().date_naive();
    today.checked_sub_days(Days::new(ago)).unwrap_or(today)
}

pub(crate) fn later(now: Moment, days: u64) -> NaiveDate {
    let today = now.utc().date_naive();
    today.checked_add_days(Days::new(days)).unwrap_or(today)
}

/// Furnishes the bench with what is missing.
pub(crate) async fn furnish(people: &People, now: Moment) -> Answer<Bench> {
    let quality = &people.quality;
    let site = quality
        .ensure(
            "/sites",
            "QUAY",
            &json!({"code": "QUAY", "name": "Intake bench, Marram Point",
                "address": "Warehouse 4, Marram Point", "time_zone": "Europe/Lisbon"}),
        )
        .await?;
    let site_id = text(&site, "id");
    let mut ids = Vec::new();
    for (code, kind, name, more) in equipment() {
        let mut item = json!({"code": code, "kind": kind, "name": name, "site": site_id,
            "calibration_due_on": later(now, 200), "check_due_on": later(now, 30)});
        if let (Some(item), Some(more)) = (item.as_object_mut(), more.as_object()) {
            item.extend(more.clone());
        }
        let made = quality.ensure("/equipment", code, &item).await?;
        ids.push(text(&made, "id"));
    }
    let [grinder, balance, cylinder, small, large, timer, shaker] = ids.as_slice() else {
        return Err(crate::error::ApiError::internal("the bench lacks a piece"));
    };
    let aflatoxin_control = control(people, now).await?;
    let aflatoxin_procedure = procedure(people, now, &aflatoxin(&aflatoxin_control)).await?;
    let vomitoxin_procedure = procedure(people, now, &vomitoxin()).await?;
    readers(people, now, &site_id).await?;
    let aflatoxin_lot = kit_lots(people, now, &aflatoxin_procedure, &vomitoxin_procedure).await?;
    let has_bench = site.get("bench").and_then(|bench| bench.get("balance"));
    if has_bench.is_none() {
        let bench = json!({"grinder": grinder, "balance": balance, "cylinder": cylinder,
            "pipettes": [small, large], "timer": timer, "shaker": shaker,
            "procedure": aflatoxin_procedure,
            "liquids": [{"name": "water", "lot": "W-1", "volume_ml": "50"}]});
        let whole = json!({"site": {"code": "QUAY", "name": "Intake bench, Marram Point",
                "address": "Warehouse 4, Marram Point", "time_zone": "Europe/Lisbon",
                "bench": bench},
            "reason": {"code": "late-information", "text": "The bench was furnished."}});
        quality
            .put(&format!("/sites/{site_id}"), version(&site), &whole)
            .await?;
    }
    adopt_limits(people, now).await;
    Ok(Bench {
        site: site_id,
        aflatoxin_procedure,
        vomitoxin_procedure,
        aflatoxin_control,
        aflatoxin_lot,
    })
}

async fn readers(people: &People, now: Moment, site_id: &str) -> Answer<()> {
    let quality = &people.quality;
    for serial in READERS {
        if quality
            .by_code("/readers", "serial", serial)
            .await?
            .is_none()
        {
            let reader = json!({"serial": serial, "name": format!("Three-port reader {serial}"),
                "site": site_id, "ports": 3, "calibration_due_on": later(now, 150),
                "check_due_on": later(now, 20),
                "curves": [curve(people, now, "C-118"), curve(people, now, "C-042"),
                    curve(people, now, "C-097")]});
            quality.post("/readers", &reader).await?;
        }
    }
    Ok(())
}

async fn control(people: &People, now: Moment) -> Answer<String> {
    let made = people
        .quality
        .ensure(
            "/control-materials",
            "CM-AF-20",
            &json!({"code": "CM-AF-20", "name": "Maize flour, aflatoxins, made up for the demo",
                "commodity": "maize-grain", "lot": "CM-7",
                "analytes": [{"analyte": "aflatoxin-total", "assigned_value": "20",
                    "expanded_uncertainty": "1.2", "coverage_factor": "2",
                    "standard_deviation": "1.3",
                    "lower": "15", "upper": "25"}],
                "expires_on": later(now, 300), "stock_g": "400"}),
        )
        .await?;
    Ok(text(&made, "id"))
}

fn equipment() -> [(&'static str, &'static str, &'static str, Value); 7] {
    let pipette = |from: &str, to: &str, step: &str| json!({"minimum_volume_ul": from, "maximum_volume_ul": to, "step_volume_ul": step});
    [
        ("GR-1", "grinder", "Grinder with 20 mesh screen", json!({})),
        (
            "BA-1",
            "balance",
            "Balance, 0.1 g",
            json!({"accuracy_class": "II", "verification_interval_g": "0.1"}),
        ),
        (
            "CY-1",
            "cylinder",
            "Cylinder, 100 mL",
            json!({"nominal_volumes_ul": ["50000", "100000"], "glass_standard": "astm-e1272",
                "glass_class": "A"}),
        ),
        (
            "PI-1",
            "pipette",
            "Pipette, 20 to 200 µL",
            pipette("20", "200", "1"),
        ),
        (
            "PI-2",
            "pipette",
            "Pipette, 100 to 1000 µL",
            pipette("100", "1000", "5"),
        ),
        ("TI-1", "timer", "Timer", json!({})),
        ("SH-1", "shaker", "Shaker", json!({})),
    ]
}

fn curve(people: &People, now: Moment, lot: &str) -> Value {
    json!({"curve_lot": lot, "loaded_by": people.analyst_id,
        "loaded_at": format!("{}T08:00:00Z", day(now, 120))})
}

/// Steps and tolerances: common practice, no source.
fn tolerances() -> Value {
    json!({"minimum_ground_mass_g": "100", "test_portion_mass_g": "10",
        "test_portion_tolerance_g": "0.1", "liquid_parts_per_part": "5",
        "liquid_tolerance_percent": "2", "minimum_shaking_s": 180, "minimum_filtrate_ml": "3",
        "maximum_extract_age_s": 14400, "read_after_s": 360, "read_tolerance_s": 60,
        "maximum_clock_ahead_s": 120})
}

/// Standard deviations, bias and the criterion of kit lots are invented.
fn aflatoxin(control: &str) -> Value {
    json!({"code": "P-AF", "title": "Total aflatoxins in maize, wheat and groundnuts by strip",
        "kit_instructions_revision": "C", "effective_from": "2025-01-06",
        "commodities": ["maize-grain", "wheat-grain", "groundnut-kernel"],
        "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
        "dilutions": [
            {"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]},
            {"steps": [{"sample_volume_ul": "50", "diluent_volume_ul": "950", "diluent": "water"}]}],
        "tolerances": tolerances(),
        "rounding": {"to": "places", "of": 1, "tie": "half-even"},
        "repeatability": {"constant": "0.5", "proportional": "0.06"},
        "precision": {"constant": "0.6", "proportional": "0.08"},
        "bias": [{"analyte": "aflatoxin-total", "control_material": control,
            "mean_found": "19.7", "standard_deviation": "1.3", "determinations": 12}],
        "kit_lot_acceptance": [{"analyte": "aflatoxin-total", "largest_difference": "1",
            "largest_fraction": "0.1", "minimum_pairs": 5}]})
}

fn vomitoxin() -> Value {
    json!({"code": "P-DN", "title": "Deoxynivalenol in wheat and maize by strip",
        "kit_instructions_revision": "B", "effective_from": "2025-01-06",
        "commodities": ["maize-grain", "wheat-grain"],
        "analytes": [{"analyte": "deoxynivalenol", "lod": "100", "loq": "250", "upper": "5000"}],
        "dilutions": [
            {"steps": [{"sample_volume_ul": "200", "diluent_volume_ul": "800", "diluent": "water"}]}],
        "tolerances": tolerances(),
        "rounding": {"to": "interval", "of": "10", "tie": "half-even"},
        "repeatability": {"constant": "40", "proportional": "0.06"},
        "precision": {"constant": "45", "proportional": "0.08"}})
}

async fn procedure(people: &People, now: Moment, body: &Value) -> Answer<String> {
    let code = text(body, "code");
    let made = people.quality.ensure("/procedures", &code, body).await?;
    let id = text(&made, "id");
    if text(&made, "state") == "draft" {
        let path = format!("/procedures/{id}/adoption");
        let reason = json!({"reason": {"code": "late-information",
            "text": format!("Validated; adopted on {}.", day(now, 100))}});
        people
            .quality
            .post_seen(&path, version(&made), &reason)
            .await?;
    }
    Ok(id)
}

/// The curve of the aflatoxin strips, made up: test over control is 1.8 × 12/(12 + x).
fn signal_curve() -> Value {
    json!({"analyte": "aflatoxin-total", "response": "test-over-control",
        "curve": {"lower": "0", "upper": "1.8", "slope": "1", "midpoint": "12"},
        "tolerance": {"proportional": "0.02"},
        "calibrators": [{"concentration": "0", "response": "1.8"},
            {"concentration": "4", "response": "1.35"}, {"concentration": "12", "response": "0.9"},
            {"concentration": "24", "response": "0.6"},
            {"concentration": "60", "response": "0.3"}]})
}

/// Signals of test and control line by that curve, for a reading of its lot.
pub(crate) fn signals(reading: &str, control_line: u64) -> Option<(String, String)> {
    let x: Decimal = reading.parse().ok()?;
    let height = Decimal::new(216, 1).checked_mul(control_line.into())?;
    let test_line = height.checked_div(x.checked_add(Decimal::new(12, 0))?)?;
    Some((test_line.round_dp(1).to_string(), control_line.to_string()))
}

async fn kit_lots(
    people: &People,
    now: Moment,
    aflatoxin: &str,
    vomitoxin: &str,
) -> Answer<String> {
    let lots = [
        (
            AFLATOXIN_LOT,
            "aflatoxin-total",
            "50",
            "C-118",
            later(now, 160),
            aflatoxin,
        ),
        (
            VOMITOXIN_LOT,
            "deoxynivalenol",
            "5000",
            "C-042",
            later(now, 90),
            vomitoxin,
        ),
        (
            PAST_LOT,
            "aflatoxin-total",
            "50",
            "C-097",
            day(now, 9),
            aflatoxin,
        ),
    ];
    let mut first = String::new();
    for (code, analyte, upper, curve, expires_on, procedure) in lots {
        let mut body = json!({"code": code, "name": format!("Strips for {analyte}"),
            "analytes": [{"analyte": analyte, "upper": upper}], "curve_lot": curve,
            "matrices": ["maize", "wheat", "groundnut"], "expires_on": expires_on,
            "storage": {"minimum_c": "2", "maximum_c": "25"}, "procedure": procedure,
            "receipts": [{"received_on": day(now, 60), "tests": 384, "storage_kept": true}]});
        if let (AFLATOXIN_LOT, Some(body)) = (code, body.as_object_mut()) {
            body.insert("curves".to_owned(), json!([signal_curve()]));
        }
        let made = people.quality.ensure("/kit-lots", code, &body).await?;
        let id = text(&made, "id");
        if text(&made, "state") == "quarantined" {
            let accepted = json!({"reason": {"code": "other",
                "text": "Three control runs inside the window."}});
            let path = format!("/kit-lots/{id}/acceptance");
            if let Err(error) = people
                .quality
                .post_seen(&path, version(&made), &accepted)
                .await
            {
                super::note("acceptance of a kit lot", &error);
            }
        }
        if first.is_empty() {
            first = id;
        }
    }
    Ok(first)
}

async fn adopt_limits(people: &People, now: Moment) {
    for slug in LIMITS {
        let path = format!("/limits/{slug}/adoption");
        let reading = json!({"date": day(now, 100), "reading": "Read in the policy guide's table; \
            the value stands there as it is adopted here (demo)."});
        if let Err(error) = people.quality.post(&path, &reading).await {
            super::note(slug, &error);
        }
    }
}
